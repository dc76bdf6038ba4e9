"""The rack: every cylinder as a card, what needs a person first, then by place."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from urllib.parse import urlencode

from service.board.fill import Fill
from service.operations.fleet import Listing

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

    def query(self, page: int) -> str:
        """Write an address that asks for the same, on another page."""
        asked = {name: self[name] for name in ("q", "refrigerant", "state", "place") if self[name]}
        return urlencode({**asked, "page": page} if page > 1 else asked)


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
    number: int = 1
    pages: int = 1

    @property
    def filtered(self) -> bool:
        """Tell whether some cylinders may be hidden."""
        return self.filters.any

    @property
    def before(self) -> str | None:
        """Address of the page before."""
        return f"?{self.filters.query(self.number - 1)}" if self.number > 1 else None

    @property
    def after(self) -> str | None:
        """Address of the page after."""
        return f"?{self.filters.query(self.number + 1)}" if self.number < self.pages else None


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


def rack(cards: Sequence[Card], filters: Filters, listing: Listing) -> Rack:
    """Put the cards of one page under their headings; they come in the order in which they are shown."""
    needing = sorted((c for c in cards if c.pressing), key=lambda c: (c.urgency, c.place, c.serial))
    bays = [Bay(NEEDS, "Needs attention", tuple(needing))] if needing else []
    for key in dict.fromkeys(c.place_key for c in cards if not c.pressing):
        here = tuple(c for c in cards if not c.pressing and c.place_key == key)
        bays.append(Bay(key, here[0].place, here))
    return Rack(tuple(bays), filters, _choices(listing), _summary(listing), listing.number, listing.pages)


def _choices(listing: Listing) -> tuple[tuple[str, str, tuple[Option, ...]], ...]:
    return (
        ("refrigerant", "Refrigerant", (("", "any"), *((name, name) for name in listing.refrigerants))),
        ("state", "State", STATES),
        ("place", "Place", (("", "all"), *((name, name) for name in listing.places))),
    )


def _summary(listing: Listing) -> str:
    total, shown, needing = listing.all, listing.counted.wanted, listing.counted.needing
    cylinders = "1 cylinder" if total == 1 else f"{total:,} cylinders"
    text = cylinders if shown == total else f"{shown:,} of {cylinders}"
    if needing == 1:
        return f"{text}, 1 needs attention"
    return f"{text}, {needing:,} need attention" if needing else f"{text}, none needs attention"
