"""Catalogue of designations, saturation curves, mixtures and the state of a closed cylinder.

Pure: standard library and numpy, no I/O, no clock. CoolProp is imported in ``equation_of_state``
alone, and nothing that serves a request imports that module: requests read tables.
"""
