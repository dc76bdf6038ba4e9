"""Heelmark: the service that says what a refrigerant cylinder holds and what may be done with it."""

VERSION = "0.1.0"
"""The one place of the version; the package's metadata reads it, and a test holds what deploys it to it."""
