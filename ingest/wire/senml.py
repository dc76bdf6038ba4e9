"""SenML packs (RFC 8428, JSON and CBOR) become readings in SI units; each record is judged by itself."""

from __future__ import annotations

import json
import re
import sys
from typing import Any, NamedTuple

from ingest.wire.reading import (
    MOST_RECORDS,
    QUANTITIES,
    ZERO_CELSIUS_K,
    Reading,
    Refused,
    Taken,
    check_time,
    owner,
    taken,
)
from ingest.wire.senml_cbor import decode, is_cbor

RELATIVE_BELOW_S = 2.0**28
"""Times below this are relative to now (RFC 8428, 4.5.3)."""
VERSION = 10
"""The version this reader understands (RFC 8428, 4.4)."""

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

_PRESSURE = {"Pa": (1.0, 0.0), "hPa": (100.0, 0.0)}
_TEMPERATURE = {"Cel": (1.0, ZERO_CELSIUS_K), "K": (1.0, 0.0)}
_UNITS: dict[str, dict[str, tuple[float, float]]] = {
    "gauge-pressure": _PRESSURE,
    "absolute-pressure": _PRESSURE,
    "wall-temperature": _TEMPERATURE,
    "ambient-temperature": _TEMPERATURE,
    "ambient-pressure": _PRESSURE,
    "mass": {"kg": (1.0, 0.0), "g": (1e-3, 0.0)},
    "battery": {"%EL": (1.0, 0.0)},
}
"""Scale and offset to SI of each unit of the SenML registries: primary ones (RFC 8428, 12.1; `g` is listed there as
not recommended to send but in use) and secondary ones (RFC 8798, section 3: of pressure `hPa` alone, of temperature
and mass none)."""
_JOINTS = (":", "_")
_ONE_OF_EACH = {quantity: quantity for quantity in QUANTITIES}
"""A hundred thousand devices share one string a quantity."""


class Record(NamedTuple):
    """One resolved SenML record; `value` and `sum` are None where the record has none."""

    name: str
    unit: str | None
    time_s: float
    value: float | bool | str | None
    sum: float | None = None
    update_time_s: float | None = None


def resolve(payload: bytes | str, now_s: float, refusals: list[Refused] | None = None) -> list[Record]:
    """Resolve a SenML pack as RFC 8428, section 4.6 says.

    Parameters
    ----------
    payload : bytes or str
        The pack, JSON in UTF-8 or CBOR.
    now_s : float
        Time that relative stamps are against, seconds since 1970 UTC, [s].
    refusals : list of Refused or None
        Takes the faults that are of one record alone; if None the first one refuses the pack.

    Returns
    -------
    list of Record
        Records with absolute times, in chronological order.

    Raises
    ------
    Refused
        The pack is not SenML, has a field that must be understood, or a base value that is faulty, which the records
        after it would share.
    """
    records: list[Record] = []
    base: dict[str, Any] = {}
    versions: set[float] = set()
    for number, fields in enumerate(_parsed(payload)):
        says_something, fault = _check_fields(number, fields, base)
        versions.add(base.get("bver", VERSION))
        try:
            if fault is not None:
                raise fault
            if says_something:
                records.append(_resolved(number, fields, base, now_s))
        except Refused as refused:
            if refusals is None:
                raise
            refusals.append(refused)
    _check_versions(versions)
    records.sort(key=_time_of)
    return records


def read(payload: bytes | str, topic_device: str, now_s: float) -> Taken:
    """Read a pack published on a device's topic, record by record.

    Parameters
    ----------
    payload : bytes or str
        The pack, JSON in UTF-8 or CBOR.
    topic_device : str
        Device that the topic names.
    now_s : float
        Time of arrival, seconds since 1970 UTC, [s].

    Returns
    -------
    Taken
        What the pack says, oldest first, and its refused records; and the names of records of other quantities.

    Raises
    ------
    Refused
        Nothing of the pack can be read: it is none, or each of its records was refused.
    """
    readings: list[Reading] = []
    refusals: list[Refused] = []
    unknown: list[str] = []
    for record in resolve(payload, now_s, refusals):
        try:
            reading = _reading(record, topic_device, now_s)
        except Refused as refused:
            refusals.append(refused)
            continue
        if reading is None:
            unknown.append(record.name)
        else:
            readings.append(reading)
    return taken(readings, refusals, unknown)


def _reading(record: Record, topic_device: str, now_s: float) -> Reading | None:
    """Return a record in SI, or None for another quantity."""
    check_time(record.name, record.time_s - now_s)
    device, quantity = _split(record.name, topic_device)
    units = _UNITS.get(quantity)
    if units is None:
        return None
    value = record.value
    if type(value) is not float:
        raise Refused("not-a-number", f"{record.name} is {str(value)[:40]!r}, expected a numeric value")
    scale = units.get(record.unit) if record.unit is not None else None
    if scale is None:
        raise Refused(
            "unit", f"{record.name} = {value:g} is in {record.unit!r}, expected {' or '.join(units)}"
        )
    value = value * scale[0] + scale[1]
    if not -_LARGEST <= value <= _LARGEST:
        raise Refused("not-finite", f"{record.name} in SI is {value}, expected a finite number")
    return Reading(device, quantity, record.time_s, value)


def _parsed(payload: bytes | str) -> list[dict[str, Any]]:
    try:
        if isinstance(payload, bytes):
            pack = decode(payload) if is_cbor(payload) else _decoder.decode(payload.decode())
        else:
            pack = _decoder.decode(payload)
    except Refused:
        raise
    except (ValueError, RecursionError) as error:
        raise Refused("not-senml", f"not JSON in UTF-8: {error}"[:200]) from error
    if not isinstance(pack, list) or not pack:
        raise Refused("not-senml", "expected an array with at least one record")
    if len(pack) > MOST_RECORDS:
        raise Refused("not-senml", f"{len(pack)} records, expected at most {MOST_RECORDS}")
    return pack


_decoder = json.JSONDecoder()
"""NaN and Infinity, which are no JSON, are read as such, so that they cost their own record alone."""


def _check_fields(number: int, fields: object, base: dict[str, Any]) -> tuple[bool, Refused | None]:
    """Check one record's fields and take over its bases; returns whether it is more than bases, and its own fault."""
    if not isinstance(fields, dict) or not fields:
        raise Refused("not-senml", f"record {number} is not an object with fields")
    says_something = "bv" in fields
    fault: Refused | None = None
    for label, value in fields.items():
        types = _LABELS.get(label)
        if types is None:
            if label.endswith("_"):
                raise Refused("not-understood", f"record {number}: field {label[:40]!r} must be understood")
            continue
        wrong = _wrong(number, fields, label, types)
        if label in _BASES:
            if wrong is not None:
                raise wrong
            base[label] = value
        else:
            fault = fault or wrong
            says_something = True
    return says_something, fault


def _wrong(number: int, fields: dict[str, Any], label: str, types: tuple[type, ...]) -> Refused | None:
    """Return what is wrong with one field, or None."""
    value = fields[label]
    if type(value) in types and (types is not _NUMBER or -_LARGEST <= value <= _LARGEST):
        return None
    where = f"record {number} ({str(fields.get('n', ''))[:80]}): field {label!r} is {str(value)[:40]!r}"
    if type(value) not in types:
        kind = "a number" if types is _NUMBER else "text" if types is _TEXT else "true or false"
        return Refused("not-senml", f"{where}, expected {kind}")
    return Refused("not-finite", f"{where}, expected a finite number")


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
    """Split a record's name into device and quantity.

    A topic that is a urn speaks for itself and for its own sensors alone, `urn:dev:mac:..._low` (RFC 9039, section 3).
    """
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
                if topic_device.startswith("urn:dev:") and owner(device) != owner(topic_device):
                    raise Refused("device", f"{name} published on the topic of {topic_device}")
                return device, quantity
    return topic_device, name
