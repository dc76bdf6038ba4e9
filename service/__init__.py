"""Heelmark: the service that says what a refrigerant cylinder holds and what may be done with it."""
