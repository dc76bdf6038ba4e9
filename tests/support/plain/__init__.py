"""The rules of a cylinder once more, as plainly as they can be written: a page each, no classes, no cleverness.

Written from the clauses and from what the rules are described to do, not from the code that decides. Only the
saturation curves, the catalogue's classes and the published tables are shared. Refusals go by the codes of their rules.
"""
