"""A hookup as the service tells it: which devices are on which cylinder, since when, against which atmosphere."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

STANDARD_ATMOSPHERE_PA = 101325.0


@dataclass(frozen=True, slots=True)
class Hookup:
    """One hookup.

    Parameters
    ----------
    id : int
        The service's number of it.
    cylinder, place : str
        Cylinder's serial and the place where it stands.
    pressure_device, temperature_device : str
        Device names; one device may serve both.
    valve : str
        `vapour` or `liquid`.
    from_s : float
        Readings stamped earlier are not of this cylinder, seconds since 1970 UTC, [s].
    atmosphere_pa : float
        Pressure of the air that gauge readings are against, [Pa].
    temperature_bias_k, pressure_bias_pa : float or None
        Calibration uncertainty of the instruments where known, [K] and [Pa].
    probe_lag_s : float or None
        First lag of the clamp where known, [s].
    """

    id: int
    cylinder: str
    place: str
    pressure_device: str
    temperature_device: str
    valve: str = "vapour"
    from_s: float = 0.0
    atmosphere_pa: float = STANDARD_ATMOSPHERE_PA
    temperature_bias_k: float | None = None
    pressure_bias_pa: float | None = None
    probe_lag_s: float | None = None

    @property
    def identity(self) -> tuple[str, str, str, str, float]:
        """What makes it another session if it changes: cylinder, devices, valve and start."""
        return (self.cylinder, self.pressure_device, self.temperature_device, self.valve, self.from_s)

    @classmethod
    def from_json(cls, item: Mapping[str, Any]) -> Hookup:
        """Read one item of `GET /hookups`; raises KeyError, TypeError or ValueError on another shape."""
        atmosphere = item.get("atmospheric_pressure_kpa")
        bias = item.get("pressure_bias_uncertainty_kpa")
        return cls(
            id=int(item["id"]),
            cylinder=str(item["cylinder"]),
            place=str(item.get("place") or ""),
            pressure_device=str(item["pressure_device"]),
            temperature_device=str(item["temperature_device"]),
            valve=str(item.get("valve") or "vapour"),
            from_s=seconds(item["from"]) if item.get("from") else 0.0,
            atmosphere_pa=1000.0 * float(atmosphere) if atmosphere else STANDARD_ATMOSPHERE_PA,
            temperature_bias_k=item.get("temperature_bias_uncertainty_k"),
            pressure_bias_pa=None if bias is None else 1000.0 * float(bias),
            probe_lag_s=item.get("probe_lag_s"),
        )


def hookups_of(items: Iterable[Mapping[str, Any]]) -> tuple[list[Hookup], list[str]]:
    """Return the hookups of JSON items, and of each item that is no hookup what is wrong with it."""
    hookups, faults = [], []
    for item in items:
        try:
            hookups.append(Hookup.from_json(item))
        except (AttributeError, KeyError, TypeError, ValueError) as error:
            faults.append(f"{error!r} in {str(item)[:200]}")
    return hookups, faults


def seconds(rfc3339: str) -> float:
    """Return seconds since 1970 UTC of an RFC 3339 date and time."""
    moment = datetime.fromisoformat(rfc3339)
    return (moment if moment.tzinfo else moment.replace(tzinfo=UTC)).timestamp()


def rfc3339(stamp_s: float) -> str:
    """Return seconds since 1970 UTC as an RFC 3339 date and time in milliseconds."""
    text = datetime.fromtimestamp(stamp_s, UTC).isoformat(timespec="milliseconds")
    return text.replace("+00:00", "Z")
