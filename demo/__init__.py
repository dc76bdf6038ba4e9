"""A scenario of our own: a shop, two vans and their cylinders, simulated and published over MQTT.

The hidden truth of every cylinder stands in `scenario.json`; the service learns of it through readings alone.
"""
