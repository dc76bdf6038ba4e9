"""Devices: those on no cylinder first, with their last values in words."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from service.board.quantities import SPACE, Quantities
from service.store.devices import Device
from service.store.hookups import Hookup

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


@dataclass(frozen=True, slots=True)
class DeviceRow:
    """One device as text."""

    name: str
    place: str
    values: str
    seen: datetime | None
    serial: str | None
    warning: str


@dataclass(frozen=True, slots=True)
class Group:
    """Devices under one heading."""

    key: str
    title: str
    devices: tuple[DeviceRow, ...]


@dataclass(frozen=True, slots=True)
class DevicesPage:
    """The page."""

    groups: tuple[Group, ...]


def devices_page(devices: Sequence[Device], active: Sequence[Hookup], show: Quantities) -> DevicesPage:
    """Part the devices into free and attached ones, those heard last first."""
    serial_of = {hookup.id: hookup.cylinder for hookup in active}
    ordered = sorted(devices, key=lambda device: device.heard_at, reverse=True)
    rows = [_row(device, serial_of, show) for device in ordered]
    free = tuple(row for row in rows if row.serial is None)
    used = tuple(row for row in rows if row.serial is not None)
    groups = (Group("free", "On no cylinder", free), Group("used", "On a cylinder", used))
    return DevicesPage(tuple(group for group in groups if group.devices))


def options(devices: Sequence[Device], measure: str, show: Quantities) -> tuple[tuple[str, str], ...]:
    """Offer the free devices that measure something, those heard last first."""
    able = [device for device in devices if any(name in device.readings for name in MEASURES[measure])]
    ordered = sorted(able, key=lambda device: device.heard_at, reverse=True)
    return tuple((device.name, _option(device, MEASURES[measure], show)) for device in ordered)


def _option(device: Device, names: tuple[str, ...], show: Quantities) -> str:
    """Begin with the value: that is what somebody recognises in their own instrument's display."""
    told = [
        _value(name, float(device.readings[name]["value"]), show) for name in names if name in device.readings
    ]
    return " · ".join([*told, *([device.place] if device.place else []), short(device.name)])


def short(name: str) -> str:
    """Leave out of a device name what all names share."""
    return name.removeprefix("urn:dev:")


def values(readings: dict[str, Any], show: Quantities) -> str:
    """Write a device's last values."""
    known = [(name, readings[name]["value"]) for name in NAMES if name in readings]
    return ", ".join(f"{NAMES[name]} {_value(name, float(value), show)}" for name, value in known)


def _value(name: str, value: float, show: Quantities) -> str:
    """Write a value in SI, as the worker passes it on (``service.units.READING_UNITS``)."""
    if name.endswith("temperature"):
        return show.temperature(value)
    if name.endswith("pressure"):
        return show.pressure(value)
    return show.mass(value) if name == "mass" else f"{value:.0f}{SPACE}%"


def _row(device: Device, serial_of: dict[int, str], show: Quantities) -> DeviceRow:
    battery = device.readings.get("battery", {}).get("value")
    low = battery is not None and battery < LOW_BATTERY_PERCENT
    return DeviceRow(
        name=device.name,
        place=device.place or "",
        values=values(device.readings, show),
        seen=device.last_seen_at,
        serial=serial_of.get(device.hookup_id) if device.hookup_id else None,
        warning="battery low" if low else "",
    )
