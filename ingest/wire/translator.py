"""Foreign messages become readings by mappings, and these SenML packs, which the inbox keeps like any other."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Sequence
from datetime import datetime
from typing import Any, NamedTuple

from jmespath.exceptions import JMESPathError

from ingest.wire.document import decode
from ingest.wire.mapping import MessageMapping, Path, Value
from ingest.wire.reading import MOST_RECORDS, Reading, Refused, Taken, check_time, taken
from ingest.wire.sparkplug import BIRTHS, DATA, NAMESPACE, Address, Births
from ingest.wire.units import UNITS, in_si

UNIT_IN_SI = {"mass": "kg", "battery": "%EL"}
_DEVICE = re.compile(r"[A-Za-z0-9][A-Za-z0-9\-:._]{0,119}").fullmatch
_PLACE = re.compile(r"[^\s/+#?\x00-\x1f\x7f]{1,64}").fullmatch


class Translated(NamedTuple):
    """What a foreign message says, and where."""

    mapping: str
    place: str
    taken: Taken


NOTHING = Translated("", "", Taken([]))
"""Of a message that is understood and says nothing that a mapping is for."""


class NothingFound(Refused):
    """A mapping found none of its values."""


class Translator:
    """Reads messages by the first mapping that finds a value in them.

    Parameters
    ----------
    mappings : sequence of MessageMapping
        In the order in which they are tried.
    places : tuple of str
        Places whose readings this worker owns; none means all.
    births : Births or None
        What is known of Sparkplug B's nodes, which outlives a change of the mappings.
    """

    def __init__(
        self,
        mappings: Sequence[MessageMapping] = (),
        places: tuple[str, ...] = (),
        births: Births | None = None,
    ) -> None:
        self.mappings, self.places = tuple(mappings), places
        self.births = births or Births()
        self.hears_births = any(mapping.topic.levels[0] == NAMESPACE for mapping in self.mappings)

    def filters(self) -> list[str]:
        """Return the MQTT filters of all mappings, those that name the place for the owned places alone.

        For Sparkplug B all of a node's messages are heard: its births name what the others send.
        """
        places = self.places or (None,)
        foreign = [mapping.topic for mapping in self.mappings if not mapping.topic.is_own]
        filters = {topic.filter(place) for topic in foreign for place in places}
        of_nodes = [levels for one in filters if len(levels := one.split("/")) > 3 and levels[0] == NAMESPACE]
        for _, group, _, node, *_ in of_nodes:
            filters |= {f"{NAMESPACE}/{group}/+/{node}", f"{NAMESPACE}/{group}/+/{node}/+"}
        return sorted(filters)

    def reads_own(self, topic: str) -> bool:
        """Whether a mapping is for this one of the worker's own topics."""
        return any(m.topic.is_own and m.topic.match(topic) is not None for m in self.mappings)

    def label(self, topic: str) -> str:
        """Return what a message of this topic would be tried with: names and versions of mappings."""
        return ", ".join(m.label for m in self.mappings if m.topic.match(topic) is not None)

    def is_stamped(self, topic: str) -> bool:
        """Whether every mapping for the topic finds the time in the message, rather than taking its arrival."""
        return all(m.time is not None for m in self.mappings if m.topic.match(topic) is not None)

    def read(
        self, topic: str, payload: bytes, now_s: float, only: str = "", *, is_new: bool = True
    ) -> Translated:
        """Read a message.

        Parameters
        ----------
        topic : str
            Where it was published.
        payload : bytes
            JSON in UTF-8, CBOR, or on its topics a payload of Sparkplug B.
        now_s : float
            Time of arrival, seconds since 1970 UTC, [s].
        only : str
            The one mapping that may be tried, where the sender names it.
        is_new : bool
            Whether it is heard for the first time.

        Returns
        -------
        Translated
            What it says, and the place; readings of a place that another worker owns are left out.

        Raises
        ------
        Refused
            No mapping for the topic finds anything; the first fault is told, with the mapping's name.
        """
        address = Address.of(topic)
        if address is not None:
            return self._of_node(address, topic, payload, now_s, is_new=is_new)
        return self._by_mappings(topic, decode(payload), now_s, only)

    def _of_node(
        self, address: Address, topic: str, payload: bytes, now_s: float, *, is_new: bool
    ) -> Translated:
        """Read a message of Sparkplug B; it tells what has changed, which may be nothing that a mapping is for.

        Births are remembered before there is a mapping too: whoever makes one is shown the names.
        """
        if address.kind not in (*BIRTHS, *DATA) or not self.label(topic):
            if is_new:
                self.births.note(address, payload)
            if not self.hears_births:
                raise _of_no_mapping(topic)
            return NOTHING
        return self._by_mappings(
            topic, self.births.tree(address, payload, is_new=is_new), now_s, may_be_empty=True
        )

    def _by_mappings(
        self, topic: str, document: object, now_s: float, only: str = "", *, may_be_empty: bool = False
    ) -> Translated:
        first: Refused | None = None
        was_empty = False
        for mapping in self.mappings:
            levels = mapping.topic.match(topic) if not only or mapping.name == only else None
            if levels is None:
                continue
            try:
                return self._by(mapping, document, levels, now_s)
            except Refused as refused:
                if may_be_empty and isinstance(refused, NothingFound):
                    was_empty = True
                else:
                    first = first or Refused(refused.reason, f"mapping {mapping.name}: {refused}")
        if first is None and was_empty:
            return NOTHING
        raise first or _of_no_mapping(topic)

    def _by(
        self, mapping: MessageMapping, document: object, levels: dict[str, str], now_s: float
    ) -> Translated:
        found = _find("each", mapping.each, document, levels)
        records = found if isinstance(found, list) else [found]
        if len(records) > MOST_RECORDS:
            raise Refused("not-understood", f"{len(records)} records, expected at most {MOST_RECORDS}")
        readings: list[Reading] = []
        refusals: list[Refused] = []
        places: set[str] = set()
        for number, record in enumerate(records):
            try:
                more = _record(mapping, record, levels, now_s, refusals)
                if more:
                    places.add(_name("place", mapping.place, record, levels, _PLACE))
                    readings += more
            except Refused as refused:
                refusals.append(Refused(refused.reason, f"record {number}: {refused}"))
        if not readings and not refusals:
            paths = ", ".join(value.path.text for value in mapping.values)
            raise NothingFound("not-understood", f"nothing at {paths}, expected a value at one of them")
        if len(places) > 1:
            raise Refused("place", f"places {sorted(places)}, expected one in a message")
        readings.sort(key=lambda reading: reading.stamp_s)
        result = taken(readings, refusals)
        place = places.pop()
        if self.places and place not in self.places:
            result = Taken([], refusals)
        return Translated(mapping.name, place, result)


def _of_no_mapping(topic: str) -> Refused:
    return Refused("topic", f"{topic[:200]!r} is of no mapping")


def as_pack(device: str, readings: Sequence[Reading]) -> bytes:
    """Return readings of one device as a SenML pack that is read to the very same numbers, whatever mappings come."""
    records: list[dict[str, Any]] = [
        {"n": reading.quantity, "u": _unit(reading.quantity), "t": reading.stamp_s, "v": reading.value}
        for reading in readings
    ]
    records[0]["bn"] = f"{device}:"
    return json.dumps(records).encode()


def _unit(quantity: str) -> str:
    return UNIT_IN_SI.get(quantity) or ("K" if quantity.endswith("temperature") else "Pa")


def _record(
    mapping: MessageMapping, record: object, levels: dict[str, str], now_s: float, refusals: list[Refused]
) -> list[Reading]:
    """Return a record's readings; a value that cannot be read is refused alone, what all share refuses the record."""
    found: list[tuple[str, float]] = []
    for value in mapping.values:
        try:
            number = _value(value, record, levels)
        except Refused as refused:
            refusals.append(refused)
            continue
        if number is not None:
            found.append((value.quantity, number))
    if not found:
        return []
    stamp_s = _stamp(mapping, record, levels, now_s)
    check_time("the record", stamp_s - now_s)
    device = _name("device", mapping.device, record, levels, _DEVICE)
    return [Reading(device, quantity, stamp_s, number) for quantity, number in found]


def _find(field: str, path: Path, record: object, levels: dict[str, str]) -> Any:
    try:
        return path.find(record, levels)
    except JMESPathError as error:
        told = " ".join(str(error).split())[:160]
        raise Refused("not-understood", f"{field} ({path.text}): {told}") from error


def _value(value: Value, record: object, levels: dict[str, str]) -> float | None:
    """Return a value in SI, or None where the record has none."""
    found = _find(value.quantity, value.path, record, levels)
    if found is None:
        return None
    where = f"{value.quantity} ({value.path.text}) is {str(found)[:60]!r}"
    if type(found) not in (int, float):
        raise Refused("not-a-number", f"{where}, expected a number; to_number(...) makes one of text")
    unit = value.unit
    if value.unit_path is not None:
        unit = _find(value.quantity, value.unit_path, record, levels)
        if not isinstance(unit, str) or unit not in UNITS[value.quantity]:
            raise Refused(
                "unit", f"{where} in {str(unit)[:40]!r}, expected {', '.join(UNITS[value.quantity])}"
            )
    try:
        number = in_si(value.quantity, str(unit), float(found))
    except OverflowError:
        number = math.inf
    if not math.isfinite(number):
        raise Refused("not-finite", f"{where}, expected a finite number")
    return number


def _stamp(mapping: MessageMapping, record: object, levels: dict[str, str], now_s: float) -> float:
    if mapping.time is None:
        return now_s
    found = _find("time", mapping.time, record, levels)
    where = f"time ({mapping.time.text}) is {str(found)[:60]!r}"
    if mapping.time_form == "rfc3339":
        return _rfc3339(where, found)
    if type(found) not in (int, float):
        raise Refused("time", f"{where}, expected a number ({mapping.time_form})")
    try:
        stamp_s = float(found) / (1000.0 if mapping.time_form == "unix-ms" else 1.0)
    except OverflowError:
        stamp_s = math.inf
    if not math.isfinite(stamp_s):
        raise Refused("time", f"{where}, expected a finite number")
    return stamp_s


def _rfc3339(where: str, found: object) -> float:
    try:
        stamp = datetime.fromisoformat(found) if isinstance(found, str) else None
    except ValueError:
        stamp = None
    if stamp is None or stamp.tzinfo is None:
        raise Refused("time", f"{where}, expected a time as in RFC 3339, with its zone")
    return stamp.timestamp()


def _name(field: str, path: Path, record: object, levels: dict[str, str], fits: Any) -> str:
    found = _find(field, path, record, levels)
    if not isinstance(found, str) or not fits(found):
        raise Refused(
            field,
            f"{field} ({path.text}) is {str(found)[:60]!r}, expected a name of letters, digits, - : . _",
        )
    return found
