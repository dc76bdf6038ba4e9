"""A scenario of our own: simulated cylinders that publish over MQTT like any device."""
