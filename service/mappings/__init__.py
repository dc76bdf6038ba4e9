"""Mappings of foreign messages: checked, tried on a message and proposed from one; the worker reads by them."""
