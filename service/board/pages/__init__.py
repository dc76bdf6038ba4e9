"""The board's pages, one module a noun; importing them puts their routes on the blueprint."""

from service.board.blueprint import bp
from service.board.pages import alarms, cylinder, devices, hookups, rack, readings, session, stream

__all__ = ["alarms", "bp", "cylinder", "devices", "hookups", "rack", "readings", "session", "stream"]
