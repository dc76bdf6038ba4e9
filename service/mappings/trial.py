"""What a mapping makes of one message, before anybody relies on it: the same numbers as the worker's."""

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from jmespath.exceptions import JMESPathError

from service.mappings.mapping import MessageMapping, Path, Value
from service.mappings.units import UNITS, in_si

MOST_RECORDS = 10_000
MOST_AHEAD_S, MOST_BEHIND_S = 60.0, 10 * 366 * 86400.0
_DEVICE = re.compile(r"[A-Za-z0-9][A-Za-z0-9\-:._]{0,119}").fullmatch
_PLACE = re.compile(r"[^\s/+#?\x00-\x1f\x7f]{1,64}").fullmatch


@dataclass(frozen=True, slots=True)
class TrialReading:
    """One value as it would be read, in SI [Pa], [K], [kg] or [%]; `stamp_s` is seconds since 1970 UTC."""

    device: str
    place: str
    quantity: str
    value: float
    stamp_s: float


@dataclass(frozen=True, slots=True)
class Trial:
    """What would be read of one message, and what would be refused and why."""

    readings: tuple[TrialReading, ...]
    faults: tuple[str, ...]


class _Refused(ValueError):
    """A record or value would be refused."""


def try_on(mapping: MessageMapping, topic: str, document: object, now_s: float) -> Trial:
    """
    Read one decoded message by a mapping.

    Parameters
    ----------
    mapping
        The mapping.
    topic
        Where the message was published.
    document
        The decoded message.
    now_s
        When it came, seconds since 1970 UTC [s].
    """
    levels = mapping.match(topic)
    if levels is None:
        return Trial((), (f"topic: {topic!r}, expected {'/'.join(mapping.levels)}",))
    try:
        found = _find("each", mapping.each, document, levels)
        records = found if isinstance(found, list) else [found]
        if len(records) > MOST_RECORDS:
            raise _Refused(f"{len(records)} records, expected at most {MOST_RECORDS}")
    except _Refused as refused:
        return Trial((), (str(refused),))
    readings: list[TrialReading] = []
    faults: list[str] = []
    for record in records:
        try:
            readings += _record(mapping, record, levels, now_s, faults)
        except _Refused as refused:
            faults.append(str(refused))
    if not readings and not faults:
        paths = ", ".join(value.path.text for value in mapping.values)
        faults.append(f"nothing at {paths}, expected a value at one of them")
    places = {reading.place for reading in readings}
    if len(places) > 1:
        return Trial((), (f"places {sorted(places)}, expected one in a message",))
    return Trial(tuple(sorted(readings, key=lambda reading: reading.stamp_s)), tuple(faults))


def _record(
    mapping: MessageMapping, record: object, levels: Mapping[str, str], now_s: float, faults: list[str]
) -> list[TrialReading]:
    found: list[tuple[str, float]] = []
    for value in mapping.values:
        try:
            number = _number(value, record, levels)
        except _Refused as refused:
            faults.append(str(refused))
            continue
        if number is not None:
            found.append((value.quantity, number))
    if not found:
        return []
    stamp_s = _stamp(mapping, record, levels, now_s)
    if not -MOST_BEHIND_S <= stamp_s - now_s <= MOST_AHEAD_S:
        raise _Refused(f"time is {stamp_s - now_s:+.0f} s from now; is the device's clock set?")
    device = _name("device", mapping.device, record, levels, _DEVICE)
    place = _name("place", mapping.place, record, levels, _PLACE)
    return [TrialReading(device, place, quantity, number, stamp_s) for quantity, number in found]


def _find(field: str, path: Path, record: object, levels: Mapping[str, str]) -> Any:
    try:
        return path.find(record, levels)
    except JMESPathError as error:
        raise _Refused(f"{field} ({path.text}): {' '.join(str(error).split())[:160]}") from error


def _number(value: Value, record: object, levels: Mapping[str, str]) -> float | None:
    found = _find(value.quantity, value.path, record, levels)
    if found is None:
        return None
    where = f"{value.quantity} ({value.path.text}) is {str(found)[:60]!r}"
    if type(found) not in (int, float):
        raise _Refused(f"{where}, expected a number; to_number(...) makes one of text")
    unit = value.unit
    if value.unit_path is not None:
        unit = _find(value.quantity, value.unit_path, record, levels)
        if not isinstance(unit, str) or unit not in UNITS[value.quantity]:
            raise _Refused(f"{where} in {str(unit)[:40]!r}, expected {', '.join(UNITS[value.quantity])}")
    try:
        number = in_si(value.quantity, str(unit), float(found))
    except OverflowError:
        number = math.inf
    if not math.isfinite(number):
        raise _Refused(f"{where}, expected a finite number")
    return number


def _stamp(mapping: MessageMapping, record: object, levels: Mapping[str, str], now_s: float) -> float:
    if mapping.time is None:
        return now_s
    found = _find("time", mapping.time, record, levels)
    where = f"time ({mapping.time.text}) is {str(found)[:60]!r}"
    if mapping.time_form == "rfc3339":
        return _rfc3339(where, found)
    if type(found) not in (int, float):
        raise _Refused(f"{where}, expected a number ({mapping.time_form})")
    try:
        stamp_s = float(found) / (1000.0 if mapping.time_form == "unix-ms" else 1.0)
    except OverflowError:
        stamp_s = math.inf
    if not math.isfinite(stamp_s):
        raise _Refused(f"{where}, expected a finite number")
    return stamp_s


def _rfc3339(where: str, found: object) -> float:
    try:
        stamp = datetime.fromisoformat(found) if isinstance(found, str) else None
    except ValueError:
        stamp = None
    if stamp is None or stamp.tzinfo is None:
        raise _Refused(f"{where}, expected a time as in RFC 3339, with its zone")
    return stamp.timestamp()


def _name(field: str, path: Path, record: object, levels: Mapping[str, str], fits: Any) -> str:
    found = _find(field, path, record, levels)
    if not isinstance(found, str) or not fits(found):
        told = "expected a name of letters, digits, - : . _"
        raise _Refused(f"{field} ({path.text}) is {str(found)[:60]!r}, {told}")
    return found
