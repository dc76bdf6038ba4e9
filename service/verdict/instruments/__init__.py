"""How far a thermometer and a gauge are off: learned from checks by hand and from cylinders, never from a best guess.

`classes` says what is known before anything was checked, `mixture` is the arithmetic, `belief` what is believed of a
set, `checks` and `contents` what it learns from, `correction` what a verdict makes of it.
"""
