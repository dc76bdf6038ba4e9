"""What a worker says of hookups and devices, as use cases take it and as it is kept."""

from collections.abc import Mapping

from service.api.http.problems import Fault
from service.api.schemas.live import Heard, HookupState, KeptReading, LastReading, State
from service.operations.live import Sighting, Snapshot
from service.operations.support.atmosphere import PressureReading
from service.units import k_from_c, pa_from_kpa


def snapshot(hookup_id: int, state: State | HookupState) -> Snapshot:
    """The state of one hookup, in SI; what the worker said is kept beside it as it came."""
    temp_c, mass_kg, lag_s = state.get("temperature_c"), state.get("mass_kg"), state.get("probe_lag_s")
    return Snapshot(
        hookup_id=hookup_id,
        at=state["at"],
        settling_state=state["settling_state"],
        temp_k=None if temp_c is None else k_from_c(temp_c),
        pressure=_pressure(state),
        mass_kg=mass_kg,
        probe_lag_s=lag_s,
        document=_plain(state),
    )


def sighting(heard: Heard) -> Sighting:
    """A device that was heard, with its last readings."""
    readings = {name: _kept(reading) for name, reading in heard.readings.items()}
    return Sighting(heard.device, heard.place, heard.last_seen, readings)


def unkept(one: Snapshot | Sighting) -> Fault:
    """An item that the service itself could not keep."""
    field, value = ("hookups", one.hookup_id) if isinstance(one, Snapshot) else ("devices", one.name)
    return {"field": field, "value": value, "expected": "something that the service can keep; see its log"}


def _pressure(state: State | HookupState) -> PressureReading | None:
    def pascals(stated_kpa: float | None) -> float | None:
        return None if stated_kpa is None else pa_from_kpa(stated_kpa)

    gauge_pa, absolute_pa = (
        pascals(state.get("gauge_pressure_kpa")),
        pascals(state.get("absolute_pressure_kpa")),
    )
    if gauge_pa is None and absolute_pa is None:
        return None
    return PressureReading(absolute_pa, gauge_pa, pascals(state.get("ambient_pressure_kpa")))


def _plain(state: State | HookupState) -> Mapping[str, object]:
    return {
        name: value for name, value in state.items() if name not in {"at", "hookup"} and value is not None
    }


def _kept(reading: LastReading) -> KeptReading:
    at = reading["at"].isoformat().replace("+00:00", "Z")
    return {"value": reading["value"], "unit": reading["unit"], "at": at}
