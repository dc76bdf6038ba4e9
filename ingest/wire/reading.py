"""A reading in SI units, whatever brought it, and how one is refused."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

MOST_AHEAD_S = 60.0
"""A reading may be this far ahead of its arrival, [s]."""
MOST_BEHIND_S = 10 * 366 * 86400.0
"""A reading stamped earlier than this before its arrival comes from a clock that was never set, [s]."""
MOST_RECORDS = 10_000
MOST_TOLD = 10
"""So many refused records of one message are told one by one."""
ZERO_CELSIUS_K = 273.15

QUANTITIES = (
    "gauge-pressure",
    "absolute-pressure",
    "wall-temperature",
    "ambient-temperature",
    "ambient-pressure",
    "mass",
    "battery",
)


class Refused(ValueError):
    """A message or record is refused; `reason` is a stable word to count by, the message says what was wrong."""

    def __init__(self, reason: str, message: str) -> None:
        super().__init__(message)
        self.reason = reason


class Reading(NamedTuple):
    """One value of one device: temperatures in [K], pressures in [Pa], mass in [kg], battery in [%]."""

    device: str
    quantity: str
    stamp_s: float
    value: float


class Taken(NamedTuple):
    """What a message says, oldest first; its records that were refused; and names of records of no known quantity."""

    readings: list[Reading]
    refusals: Sequence[Refused] = ()
    unknown: Sequence[str] = ()


def owner(device: str) -> str:
    """Return the device that a sensor of a DEV URN is part of (RFC 9039: what follows `_`), or the name itself."""
    return device.partition("_")[0] if device.startswith("urn:dev:") else device


def check_time(name: str, ahead_s: float) -> None:
    """Refuse a stamp that is too far ahead of its arrival, or too far behind it, [s]."""
    if ahead_s > MOST_AHEAD_S:
        raise Refused(
            "ahead-of-time",
            f"{name} is stamped {ahead_s:.0f} s ahead of now, expected at most {MOST_AHEAD_S:.0f} s",
        )
    if ahead_s < -MOST_BEHIND_S:
        raise Refused("behind-time", f"{name} is stamped {-ahead_s:.0f} s ago: is the device's clock set?")


def told(refusals: Sequence[Refused]) -> str:
    """Return what a person is told of the refused records of one message."""
    lines = [str(refused) for refused in refusals[:MOST_TOLD]]
    if len(refusals) > MOST_TOLD:
        lines.append(f"and {len(refusals) - MOST_TOLD} more")
    return "; ".join(lines)


def taken(readings: list[Reading], refusals: Sequence[Refused], unknown: Sequence[str] = ()) -> Taken:
    """Return what was taken of a message; raises Refused if every record that could have been read was refused."""
    if refusals and not readings:
        raise Refused(refusals[0].reason, told(refusals))
    return Taken(readings, refusals, unknown)
