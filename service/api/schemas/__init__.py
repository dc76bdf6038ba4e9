"""Marshmallow schemas, one module a noun: what comes in, what goes out."""
