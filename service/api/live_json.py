"""Live values between JSON and the plain data that is kept."""

from typing import Any

from service.api.quantities import masses, pressures, temperatures
from service.store.live import Live

SHOWN = ("battery_percent", "drift_k_per_h", "good_to_k")


def plain_state(state: dict[str, Any]) -> dict[str, Any]:
    """A loaded state as JSON can hold it."""
    return {
        name: value for name, value in state.items() if name not in {"at", "hookup"} and value is not None
    }


def plain_reading(reading: dict[str, Any]) -> dict[str, Any]:
    """A loaded reading as JSON can hold it."""
    return {**reading, "at": reading["at"].isoformat().replace("+00:00", "Z")}


def encode_live(live: Live) -> dict[str, Any]:
    """Live values as JSON, in both units."""
    document = live.document
    gauge_kpa = document.get("gauge_pressure_kpa")
    return {
        "hookup": live.hookup_id,
        "cylinder": live.cylinder,
        "at": live.at,
        "settling_state": live.settling_state,
        "reasons": document.get("reasons", []),
        **temperatures("temperature", live.temp_k),
        **pressures("absolute_pressure", live.pressure_pa),
        **pressures("gauge_pressure", None if gauge_kpa is None else gauge_kpa * 1000.0),
        **masses("mass", document.get("mass_kg")),
        **{name: document.get(name) for name in SHOWN},
    }
