"""The board's pages, one module a noun; importing them puts their routes on the blueprint."""

from service.board.blueprint import bp
from service.board.pages import (
    alarms,
    care,
    cylinder,
    devices,
    exchanges,
    holds,
    hookups,
    identity,
    marks,
    paper,
    people,
    places,
    rack,
    readings,
    session,
    stream,
    transfers,
)

__all__ = [
    "alarms",
    "bp",
    "care",
    "cylinder",
    "devices",
    "exchanges",
    "holds",
    "hookups",
    "identity",
    "marks",
    "paper",
    "people",
    "places",
    "rack",
    "readings",
    "session",
    "stream",
    "transfers",
]
