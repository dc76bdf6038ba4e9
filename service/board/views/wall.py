"""The wall: one tile a cylinder by place, danger largest; causes counted once; readable at three meters."""

from collections.abc import Sequence
from dataclasses import dataclass

from service.board import phrases
from service.board.views.alarms import AlarmsPage
from service.operations.fleet import Wall
from service.store.fleet import DANGER, QUIET, Tile

GLYPHS = ("danger", "attention", "hold", "notice", "clear")
MANY = 300
"""Of more tiles than this each is smaller."""
LARGE = 2
"""So many dangers are cards of their own; the others are one line each."""


@dataclass(frozen=True, slots=True)
class Mark:
    """A tile: its serial, its sign, and in words what is wrong with it; empty where nothing is."""

    serial: str
    glyph: str
    word: str
    grows: bool


@dataclass(frozen=True, slots=True)
class Bay:
    """The tiles of one place, and how many quiet cylinders there are beside them."""

    place: str
    marks: tuple[Mark, ...]
    quiet: int


@dataclass(frozen=True, slots=True)
class WallPage:
    """The page."""

    alarms: AlarmsPage
    bays: tuple[Bay, ...]
    all: int
    needing: int
    large: int

    @property
    def many(self) -> bool:
        """Tell whether tiles have to be small for all of them to fit."""
        return sum(len(bay.marks) for bay in self.bays) > MANY


def wall_page(wall: Wall, alarms: AlarmsPage) -> WallPage:
    """Group the tiles by place, places with the worst first; where there is no room, quiet ones are a number."""
    total = sum(wall.places.values())
    shown = wall.tiles if total <= len(wall.tiles) else [one for one in wall.tiles if one.rank < QUIET]
    worst = {one.place: one.rank for one in reversed(shown)}
    named = sorted(wall.places, key=lambda place: (worst.get(place, QUIET), place))
    bays = tuple(
        _bay(place, [one for one in shown if one.place == place], wall.places[place]) for place in named
    )
    return WallPage(alarms, bays, total, wall.needing, LARGE)


def _bay(place: str, tiles: Sequence[Tile], number: int) -> Bay:
    return Bay(place, tuple(map(_mark, tiles)), number - len(tiles))


def _mark(one: Tile) -> Mark:
    word = "On hold" if one.code == "hold" else phrases.ALARMS.get(one.code or "", one.code or "")
    return Mark(one.serial, GLYPHS[one.rank], word if one.rank < QUIET else "", one.rank == DANGER)
