"""The rack: every cylinder as a card, what needs a person first, then by place."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from service.board.fill import Fill

LEVELS = ("danger", "attention", "hold", "notice")
NEEDS = "needs"


@dataclass(frozen=True, slots=True)
class Need:
    """One thing that a person must look after."""

    level: str
    text: str
    seen_by: str | None = None
    code: str = ""

    @property
    def glyph(self) -> str:
        """Glyph of the level."""
        return self.level


@dataclass(frozen=True, slots=True)
class Card:
    """A cylinder on the rack, as text."""

    key: int
    serial: str
    url: str
    place: str
    place_key: str
    designation: str
    sure: str
    contamination_code: str
    contamination: str
    fill: Fill
    fill_text: str
    retest: str
    state_code: str
    state: str
    temperature: str
    pressure: str
    seen: datetime | None
    needs: tuple[Need, ...] = ()
    refrigerants: tuple[str, ...] = ()
    marks: str = ""

    @property
    def bay(self) -> str:
        """The bay that it stands in; what needs somebody stays on top until its cause has ended."""
        return NEEDS if self.pressing else self.place_key

    @property
    def pressing(self) -> bool:
        """Tell whether something of it needs somebody, whoever has seen that."""
        return bool(self.needs)

    @property
    def urgency(self) -> int:
        """0 is the most urgent."""
        return min((LEVELS.index(need.level) for need in self.needs), default=len(LEVELS))


@dataclass(frozen=True, slots=True)
class Filters:
    """What the person asked to see."""

    q: str = ""
    refrigerant: str = ""
    state: str = ""
    place: str = ""

    def __getitem__(self, name: str) -> str:
        return str(getattr(self, name))

    @property
    def any(self) -> bool:
        """Tell whether anything is filtered."""
        return bool(self.q or self.refrigerant or self.state or self.place)

    def admits(self, card: Card) -> bool:
        """Tell whether a card is asked for."""
        text = self.q.strip().casefold()
        return (
            (not text or text in card.serial.casefold() or text in card.marks.casefold())
            and (not self.refrigerant or self.refrigerant in card.refrigerants)
            and (not self.place or self.place == card.place_key)
            and (
                not self.state
                or self.state == card.state_code
                or (self.state == NEEDS and card.pressing)
                or (self.state == "hold" and any(need.level == "hold" for need in card.needs))
            )
        )


@dataclass(frozen=True, slots=True)
class Bay:
    """Cards under one heading."""

    key: str
    title: str
    cards: tuple[Card, ...]


Option = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Rack:
    """The page."""

    bays: tuple[Bay, ...]
    filters: Filters
    choices: tuple[tuple[str, str, tuple[Option, ...]], ...]
    summary: str

    @property
    def filtered(self) -> bool:
        """Tell whether some cylinders may be hidden."""
        return self.filters.any


STATES: tuple[Option, ...] = (
    ("", "any"),
    (NEEDS, "needs attention"),
    ("hold", "on hold"),
    ("settled", "settled"),
    ("settling", "settling"),
    ("warming", "warming"),
    ("cooling", "cooling"),
    ("waiting", "waiting for readings"),
    ("disturbed", "disturbed"),
    ("stale", "no new readings"),
    ("none", "not hooked up"),
)


def rack(cards: Sequence[Card], filters: Filters) -> Rack:
    """Group and order the cards that the filters admit."""
    shown = [card for card in cards if filters.admits(card)]
    needing = sorted((c for c in shown if c.pressing), key=lambda c: (c.urgency, c.place, c.serial))
    bays = [Bay(NEEDS, "Needs attention", tuple(needing))] if needing else []
    places = sorted({(c.place, c.place_key) for c in shown if not c.pressing})
    for title, key in places:
        here = tuple(
            sorted((c for c in shown if not c.pressing and c.place_key == key), key=lambda c: c.serial)
        )
        bays.append(Bay(key, title, here))
    return Rack(tuple(bays), filters, _choices(cards), _summary(len(cards), len(shown), len(needing)))


def _choices(cards: Iterable[Card]) -> tuple[tuple[str, str, tuple[Option, ...]], ...]:
    cards = tuple(cards)
    refrigerants = sorted({name for card in cards for name in card.refrigerants})
    places = sorted({(card.place, card.place_key) for card in cards})
    return (
        ("refrigerant", "Refrigerant", (("", "any"), *((name, name) for name in refrigerants))),
        ("state", "State", STATES),
        ("place", "Place", (("", "all"), *((key, title) for title, key in places))),
    )


def _summary(total: int, shown: int, needing: int) -> str:
    cylinders = f"{total} cylinder{'' if total == 1 else 's'}"
    text = cylinders if shown == total else f"{shown} of {cylinders}"
    return (
        f"{text}, {needing} need{'s' if needing == 1 else ''} attention"
        if needing
        else f"{text}, none needs attention"
    )
