"""The worker: live readings from a broker become equilibrium pairs for the service."""
