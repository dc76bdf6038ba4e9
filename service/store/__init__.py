"""Tables, queries and migrations; rows become dataclasses here."""
