"""SenML packs (RFC 8428, JSON form) become readings in SI units; a pack that breaks a rule is refused whole."""

from __future__ import annotations

import json
import re
import sys
from typing import Any, NamedTuple

RELATIVE_BELOW_S = 2.0**28
"""Times below this are relative to now (RFC 8428, 4.5.3)."""
VERSION = 10
"""The version this reader understands (RFC 8428, 4.4)."""
MOST_AHEAD_S = 60.0
"""A reading may be this far ahead of its arrival, [s]."""
MOST_BEHIND_S = 10 * 366 * 86400.0
"""A reading stamped earlier than this before its arrival comes from a clock that was never set, [s]."""
MOST_RECORDS = 10_000
ZERO_CELSIUS_K = 273.15

_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9\-:./_]*").fullmatch
_TEXT, _NUMBER, _TRUTH = (str,), (float, int), (bool,)
_LABELS: dict[str, tuple[type, ...]] = {
    **dict.fromkeys(("bn", "bu", "n", "u", "vs", "vd"), _TEXT),
    **dict.fromkeys(("bt", "bv", "bs", "bver", "v", "s", "t", "ut"), _NUMBER),
    "vb": _TRUTH,
}
_BASES = frozenset(("bn", "bt", "bu", "bv", "bs", "bver"))
_VALUES = ("v", "vs", "vb", "vd")
_LARGEST = sys.float_info.max

_UNITS: dict[str, tuple[str, ...]] = {
    "gauge-pressure": ("Pa",),
    "absolute-pressure": ("Pa",),
    "wall-temperature": ("Cel", "K"),
    "ambient-temperature": ("Cel", "K"),
    "ambient-pressure": ("Pa",),
    "mass": ("kg",),
    "battery": ("%EL",),
}
QUANTITIES = tuple(_UNITS)
_JOINTS = (":", "_")
_ONE_OF_EACH = {quantity: quantity for quantity in QUANTITIES}
"""A hundred thousand devices share one string a quantity."""


class Refused(ValueError):
    """A pack is refused; `reason` is a stable word to count by, the message says what was wrong."""

    def __init__(self, reason: str, message: str) -> None:
        super().__init__(message)
        self.reason = reason


class Record(NamedTuple):
    """One resolved SenML record; `value` and `sum` are None where the record has none."""

    name: str
    unit: str | None
    time_s: float
    value: float | bool | str | None
    sum: float | None = None
    update_time_s: float | None = None


class Reading(NamedTuple):
    """One value of one device: temperatures in [K], pressures in [Pa], mass in [kg], battery in [%]."""

    device: str
    quantity: str
    stamp_s: float
    value: float


def resolve(payload: bytes | str, now_s: float) -> list[Record]:
    """Resolve a SenML pack as RFC 8428, section 4.6 says.

    Parameters
    ----------
    payload : bytes or str
        The pack, UTF-8 JSON.
    now_s : float
        Time that relative stamps are against, seconds since 1970 UTC, [s].

    Returns
    -------
    list of Record
        Records with absolute times, in chronological order.

    Raises
    ------
    Refused
        The pack is not SenML, has a field that must be understood, or a number that is not finite.
    """
    records: list[Record] = []
    base: dict[str, Any] = {}
    versions: set[float] = set()
    for number, fields in enumerate(_parsed(payload)):
        says_something = _check_fields(number, fields, base)
        versions.add(base.get("bver", VERSION))
        if says_something:
            records.append(_resolved(number, fields, base, now_s))
    _check_versions(versions)
    records.sort(key=_time_of)
    return records


def read(payload: bytes | str, topic_device: str, now_s: float) -> list[Reading]:
    """Read a pack published on a device's topic.

    Parameters
    ----------
    payload : bytes or str
        The pack, UTF-8 JSON.
    topic_device : str
        Device that the topic names.
    now_s : float
        Time of arrival, seconds since 1970 UTC, [s].

    Returns
    -------
    list of Reading
        What the pack says, oldest first; records of other quantities are left out.

    Raises
    ------
    Refused
        The whole pack is refused.
    """
    readings = []
    for record in resolve(payload, now_s):
        _check_time(record.name, record.time_s - now_s)
        device, quantity = _split(record.name, topic_device)
        units = _UNITS.get(quantity)
        if units is None:
            continue
        value = record.value
        if type(value) is not float:
            raise Refused("not-a-number", f"{record.name} has no numeric value")
        if record.unit not in units:
            raise Refused("unit", f"{record.name} is in {record.unit!r}, expected {' or '.join(units)}")
        if record.unit == "Cel":
            value += ZERO_CELSIUS_K
        readings.append(Reading(device, quantity, record.time_s, value))
    return readings


def _check_time(name: str, ahead_s: float) -> None:
    if ahead_s > MOST_AHEAD_S:
        raise Refused("ahead-of-time", f"{name} is stamped {ahead_s:.0f} s ahead of now")
    if ahead_s < -MOST_BEHIND_S:
        raise Refused("behind-time", f"{name} is stamped {-ahead_s:.0f} s ago: is the device's clock set?")


def _parsed(payload: bytes | str) -> list[dict[str, Any]]:
    try:
        pack = _decoder.decode(payload.decode() if isinstance(payload, bytes) else payload)
    except Refused:
        raise
    except (ValueError, RecursionError) as error:
        raise Refused("not-senml", f"not JSON in UTF-8: {error}"[:200]) from error
    if not isinstance(pack, list) or not pack:
        raise Refused("not-senml", "expected an array with at least one record")
    if len(pack) > MOST_RECORDS:
        raise Refused("not-senml", f"{len(pack)} records, expected at most {MOST_RECORDS}")
    return pack


def _constant(text: str) -> float:
    raise Refused("not-finite", f"{text} is not a number")


_decoder = json.JSONDecoder(parse_constant=_constant)


def _check_fields(number: int, fields: object, base: dict[str, Any]) -> bool:
    """Check one record's fields and take over its bases; returns whether it is more than bases."""
    if not isinstance(fields, dict) or not fields:
        raise Refused("not-senml", f"record {number} is not an object with fields")
    says_something = "bv" in fields
    for label, value in fields.items():
        types = _LABELS.get(label)
        if types is None:
            if label.endswith("_"):
                raise Refused("not-understood", f"record {number}: field {label[:40]!r} must be understood")
            continue
        if type(value) not in types:
            raise Refused("not-senml", f"record {number}: field {label!r} has the wrong type")
        if types is _NUMBER and not -_LARGEST <= value <= _LARGEST:
            raise Refused("not-finite", f"record {number}: field {label!r} is not finite")
        if label in _BASES:
            base[label] = value
        else:
            says_something = True
    return says_something


def _time_of(record: Record) -> float:
    return record.time_s


def _check_versions(versions: set[float]) -> None:
    if len(versions) > 1:
        raise Refused("version", f"records of different versions: {sorted(versions)}")
    version = versions.pop()
    if version > VERSION or version < 1 or version != int(version):
        raise Refused("version", f"version {version}, expected at most {VERSION}")


def _resolved(number: int, fields: dict[str, Any], base: dict[str, Any], now_s: float) -> Record:
    name = base.get("bn", "") + fields.get("n", "")
    if not _NAME(name):
        raise Refused("name", f"record {number}: {name[:80]!r} is not a SenML name")
    value = _value(number, name, fields, base)
    time_s = base.get("bt", 0.0) + fields.get("t", 0.0)
    if time_s < RELATIVE_BELOW_S:
        time_s += now_s
    total = base.get("bs", 0.0) + fields.get("s", 0.0) if "s" in fields or "bs" in base else None
    unit = fields["u"] if "u" in fields else base.get("bu")
    if not -_LARGEST <= time_s <= _LARGEST or not (total is None or -_LARGEST <= total <= _LARGEST):
        raise Refused("not-finite", f"record {number} ({name[:80]}): a sum of base and value is not finite")
    return Record(name, unit, float(time_s), value, total, fields.get("ut"))


def _value(number: int, name: str, fields: dict[str, Any], base: dict[str, Any]) -> float | bool | str | None:
    """Return the record's one value, base applied."""
    if "v" in fields:
        if "vs" in fields or "vb" in fields or "vd" in fields:
            raise Refused("not-senml", f"record {number} ({name[:80]}): expected exactly one value")
        value = float(fields["v"]) + base["bv"] if "bv" in base else float(fields["v"])
        if not -_LARGEST <= value <= _LARGEST:
            raise Refused(
                "not-finite", f"record {number} ({name[:80]}): a sum of base and value is not finite"
            )
        return value
    given = [label for label in _VALUES if label in fields]
    if len(given) == 1:
        other: bool | str = fields[given[0]]
        return other
    if len(given) > 1 or ("s" not in fields and "bs" not in base and "bv" not in base):
        raise Refused("not-senml", f"record {number} ({name[:80]}): expected exactly one value")
    return float(base["bv"]) if "bv" in base else None


def _split(name: str, topic_device: str) -> tuple[str, str]:
    """Split a record's name into device and quantity; a topic that is a urn speaks for itself alone."""
    if name.startswith(topic_device) and name[len(topic_device) : len(topic_device) + 1] in _JOINTS:
        known = _ONE_OF_EACH.get(name[len(topic_device) + 1 :])
        if known is not None:
            return topic_device, known
    for quantity in QUANTITIES:
        if name.endswith(quantity):
            prefix = name[: -len(quantity)]
            if not prefix:
                return topic_device, quantity
            if prefix[-1] in _JOINTS and len(prefix) > 1:
                device = prefix[:-1]
                if device != topic_device and topic_device.startswith("urn:dev:"):
                    raise Refused("device", f"{name} published on the topic of {topic_device}")
                return device, quantity
    return topic_device, name
