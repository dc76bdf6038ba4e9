"""Mappings as text: which there are, their versions, and what one makes of a message."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

from service.board.quantities import Quantities
from service.board.views.assistant import QUANTITY_WORDS
from service.board.views.devices import value_text
from service.mappings.mapping import FaultyMapping, parse
from service.mappings.toml_text import documents
from service.mappings.trial import Trial
from service.operations.mappings import Shipped
from service.store.mappings import StoredMapping


@dataclass(frozen=True, slots=True)
class MappingRow:
    """One version of a mapping."""

    name: str
    topic: str
    version: int
    saved_at: datetime
    saved_by: str
    withdrawn: bool


@dataclass(frozen=True, slots=True)
class MappingsPage:
    """Those that are read by, and names of those to begin from with their topics."""

    kept: tuple[MappingRow, ...]
    shipped: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Read:
    """One value as it would be read."""

    what: str
    value: str
    device: str
    place: str
    at: datetime


@dataclass(frozen=True, slots=True)
class MappingPage:
    """A mapping's versions, the newest first, and what was tried."""

    versions: tuple[MappingRow, ...]
    tried: bool
    reads: tuple[Read, ...]
    faults: tuple[str, ...]


def mappings_page(kept: Sequence[StoredMapping], shipped: Sequence[Shipped]) -> MappingsPage:
    """List them by name."""
    rows = sorted(map(_row, kept), key=lambda row: row.name)
    begin = tuple((str(one.document["name"]), str(one.document["topic"])) for one in shipped)
    return MappingsPage(tuple(rows), begin)


def mapping_page(versions: Sequence[StoredMapping], trial: Trial | None, show: Quantities) -> MappingPage:
    """Write the versions and what the trial read."""
    reads = [
        Read(
            QUANTITY_WORDS[one.quantity],
            value_text(one.quantity, one.value, show),
            one.device,
            one.place,
            datetime.fromtimestamp(one.stamp_s, UTC),
        )
        for one in (trial.readings if trial else ())
    ]
    faults = trial.faults if trial else ()
    return MappingPage(tuple(map(_row, versions)), trial is not None, tuple(reads), faults)


def is_of(text: str, topic: str) -> bool:
    """Whether a topic is one of a mapping's, given as text; of any where there is no text yet."""
    if not text:
        return True
    try:
        return parse(documents(text)[0]).match(topic) is not None
    except FaultyMapping:
        return False


def _row(one: StoredMapping) -> MappingRow:
    topic = str((one.document or {}).get("topic", ""))
    return MappingRow(one.name, topic, one.version, one.saved_at, one.saved_by, one.document is None)
