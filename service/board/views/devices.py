"""Devices: those on no cylinder first, with their last values in words."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from service.board.quantities import SPACE, Quantities
from service.mappings.questions import other_unit
from service.mappings.units import UNITS, word
from service.store.devices import Device
from service.store.hookups import Hookup
from service.store.not_understood import NotUnderstood

NAMES = {
    "gauge-pressure": "gauge",
    "absolute-pressure": "absolute",
    "wall-temperature": "wall",
    "ambient-temperature": "air",
    "ambient-pressure": "barometer",
    "mass": "scale",
    "battery": "battery",
}
MEASURES = {
    "pressure": ("gauge-pressure", "absolute-pressure"),
    "temperature": ("wall-temperature",),
}
LOW_BATTERY_PERCENT = 15.0
WHY = {
    "unit": "It speaks in a unit that is not read here.",
    "unknown-name": "It names its values in its own way; they need a mapping.",
    "not-json": "Its messages are neither JSON nor CBOR.",
    "not-senml": "Its messages are not SenML; they need a mapping.",
    "topic": "Nobody has said how to read this topic; it needs a mapping.",
    "not-understood": "The mapping finds nothing in its messages.",
    "no-birth": "It sends numbers without names; it has been asked to announce itself again.",
    "not-sparkplug": "Its topic is of Sparkplug B, and its messages are not.",
    "not-a-number": "It sends text where a number belongs.",
    "ahead-of-time": "Its clock is ahead.",
    "behind-time": "Its clock was never set.",
    "device": "It speaks for a device that is not its own.",
}
"""What each reason means to whoever looks after the gateway; the exact fault is beside it."""


@dataclass(frozen=True, slots=True)
class DeviceRow:
    """One device as text."""

    name: str
    called: str
    place: str
    values: str
    seen: datetime | None
    serial: str | None
    warning: str
    retired: datetime | None


@dataclass(frozen=True, slots=True)
class Group:
    """Devices under one heading."""

    key: str
    title: str
    devices: tuple[DeviceRow, ...]


@dataclass(frozen=True, slots=True)
class UnreadRow:
    """Messages that were heard and could not be read, as text."""

    number: int
    source: str
    place: str
    says: str
    detail: str
    example: str
    seen: datetime


@dataclass(frozen=True, slots=True)
class DevicesPage:
    """The page."""

    groups: tuple[Group, ...]
    unread: tuple[UnreadRow, ...]


def devices_page(
    devices: Sequence[Device], active: Sequence[Hookup], unread: Sequence[NotUnderstood], show: Quantities
) -> DevicesPage:
    """Part the devices into free, attached and retired ones, those heard last first."""
    serial_of = {hookup.id: hookup.cylinder for hookup in active}
    ordered = sorted(devices, key=lambda device: device.heard_at, reverse=True)
    rows = [_row(device, serial_of, show, ordered) for device in ordered]
    used = tuple(row for row in rows if row.serial is not None)
    free = tuple(row for row in rows if row.serial is None and row.retired is None)
    retired = tuple(row for row in rows if row.serial is None and row.retired is not None)
    groups = (
        Group("free", "On no cylinder", free),
        Group("used", "On a cylinder", used),
        Group("retired", "Retired", retired),
    )
    # Other records of a known device, such as its signal strength, are nobody's concern here.
    lost = [_unread_row(one) for one in unread if not (one.partly and one.reason == "unknown-name")]
    return DevicesPage(tuple(group for group in groups if group.devices), tuple(lost))


def _unread_row(one: NotUnderstood) -> UnreadRow:
    times = "once" if one.count == 1 else f"{one.count} times"
    lost = "part of its messages cannot be read" if one.partly else "nothing of it can be read"
    return UnreadRow(
        number=one.id,
        source=one.source,
        place=one.place or "",
        says=f"{WHY.get(one.reason, 'Its messages are not as expected.')} Heard {times}; {lost}.",
        detail=one.detail,
        example=one.example,
        seen=one.last_seen_at,
    )


def options(devices: Sequence[Device], measure: str, show: Quantities) -> tuple[tuple[str, str], ...]:
    """Offer the free devices that measure something, those heard last first."""
    able = [
        device
        for device in devices
        if not device.retired and any(name in device.readings for name in MEASURES[measure])
    ]
    ordered = sorted(able, key=lambda device: device.heard_at, reverse=True)
    return tuple((device.name, _option(device, MEASURES[measure], show)) for device in ordered)


def set_options(
    sets: Sequence[Hookup], free: Sequence[Device], show: Quantities
) -> tuple[tuple[str, str], ...]:
    """Offer gauge and clamp that were last used together, while both are free; values as in their displays."""
    known = {device.name: device for device in free if not device.retired}
    offered = []
    for one in sets:
        gauge, clamp = known.get(one.pressure_device), known.get(one.temperature_device)
        if gauge is None or clamp is None:
            continue
        told = [_option(gauge, MEASURES["pressure"], show), _option(clamp, MEASURES["temperature"], show)]
        offered.append((str(one.id), f"{' with '.join(told)} · last on {one.cylinder}"))
    return tuple(offered)


def _option(device: Device, names: tuple[str, ...], show: Quantities) -> str:
    """Begin with the value: that is what somebody recognises in their own instrument's display."""
    told = [
        value_text(name, float(device.readings[name]["value"]), show)
        for name in names
        if name in device.readings
    ]
    called = [device.called] if device.called else []
    return " · ".join([*called, *told, *([device.place] if device.place else []), short(device.name)])


def short(name: str) -> str:
    """Leave out of a device name what all names share."""
    return name.removeprefix("urn:dev:")


def values(readings: dict[str, Any], show: Quantities) -> str:
    """Write a device's last values."""
    known = [(name, readings[name]["value"]) for name in NAMES if name in readings]
    return ", ".join(f"{NAMES[name]} {value_text(name, float(value), show)}" for name, value in known)


def value_text(name: str, value: float, show: Quantities) -> str:
    """Write a value in SI, as the worker passes it on (``service.units.READING_UNITS``)."""
    if name.endswith("temperature"):
        return show.temperature(value)
    if name.endswith("pressure"):
        return show.pressure(value)
    return show.mass(value) if name == "mass" else f"{value:.0f}{SPACE}%"


def _row(device: Device, serial_of: dict[int, str], show: Quantities, all_: Sequence[Device]) -> DeviceRow:
    battery = device.readings.get("battery", {}).get("value")
    low = battery is not None and battery < LOW_BATTERY_PERCENT
    return DeviceRow(
        name=device.name,
        called=device.called or "",
        place=device.place or "",
        values=values(device.readings, show),
        seen=device.last_seen_at,
        serial=serial_of.get(device.hookup_id) if device.hookup_id else None,
        warning=". ".join(
            filter(
                None,
                (
                    "battery low" if low else "",
                    "It is retired and still heard" if device.still_heard else "",
                    *_questions(device, all_),
                ),
            )
        ),
        retired=device.retired_at,
    )


def _questions(device: Device, all_: Sequence[Device]) -> list[str]:
    """Ask about temperatures far from those of the place that would be near them in the other unit."""
    beside = [one for one in all_ if one.place == device.place]
    asked = []
    for name in ("wall-temperature", "ambient-temperature"):
        if name in device.readings:
            others = tuple(said_by(beside, name, but=device.name).values())
            asked.append(question(name, "Cel", float(device.readings[name]["value"]), others))
    return asked


def said_by(devices: Sequence[Device], quantity: str, *, but: str) -> Mapping[str, float]:
    """What devices last said of a quantity, by name, those heard last first; SI."""
    ordered = sorted(devices, key=lambda device: device.heard_at, reverse=True)
    return {
        device.name: float(device.readings[quantity]["value"])
        for device in ordered
        if quantity in device.readings and device.name != but
    }


def question(quantity: str, unit: str, si: float, others: Sequence[float]) -> str:
    """Ask about a value that is likelier in another unit: `is this 76 °F?`; empty for one that is not."""
    scale, offset = UNITS[quantity][unit]
    raw = (si - offset) / scale
    other = other_unit(quantity, unit, raw, others)
    return "" if other is None else f"Is this {raw:g} {word(other)}, not {word(unit)}?"
