"""Use cases, one module a noun: the only place that decides, commits and records."""
