"""What the service is told every few seconds: settling states and last values, as JSON."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from ingest.estimator.settling import Estimate
from ingest.estimator.time_left import time_left
from ingest.sessions.pipeline import Device, Pipeline
from ingest.sessions.session import Session
from ingest.wire.hookup import rfc3339

MOST_NOT_UNDERSTOOD = 50
UNITS = {
    "gauge-pressure": "Pa",
    "absolute-pressure": "Pa",
    "ambient-pressure": "Pa",
    "wall-temperature": "K",
    "ambient-temperature": "K",
    "mass": "kg",
    "battery": "%EL",
}


def snapshot(
    session: Session, devices: dict[str, Device], now_s: float, *, disagreeing: bool = False
) -> dict[str, Any]:
    """Return one hookup of `PUT /live`.

    Parameters
    ----------
    session : Session
        The hookup's session, which has been heard.
    devices : dict
        What was heard of each device.
    now_s : float
        Wall clock, which tells a silent sensor, [s].
    disagreeing : bool
        Whether another hookup of the cylinder says something else.

    Returns
    -------
    dict
        JSON object of the hookup.
    """
    settling, hookup = session.settling, session.hookup
    values = _newest(devices, hookup.pressure_device, hookup.temperature_device)
    stale = session.is_stale(now_s)
    estimate = settling.provisional()
    lacking = session.lacking(now_s)
    body: dict[str, Any] = {
        "hookup": hookup.id,
        "settling_state": "stale" if stale else settling.state(),
        "reasons": [
            *session.reasons(),
            *lacking,
            *(["devices-disagree"] if disagreeing else []),
        ],
        "at": rfc3339(session.newest_s),
        "temperature_c": _rounded(values.get("wall-temperature"), 1.0, -273.15),
        "gauge_pressure_kpa": _rounded(values.get("gauge-pressure"), 1e-3),
        "absolute_pressure_kpa": _rounded(values.get("absolute-pressure"), 1e-3),
        "mass_kg": _rounded(values.get("mass")),
        "ambient_temperature_c": _rounded(values.get("ambient-temperature"), 1.0, -273.15),
        "battery_percent": _rounded(values.get("battery")),
        "drift_k_per_h": round(estimate.drift_k_s * 3600.0, 3) if estimate else None,
        "good_to_k": round(estimate.uncertainty_k, 3) if estimate else None,
        "provisional_pair": _pair(estimate) if estimate else None,
        "probe_lag_s": _rounded(estimate.lag_s) if estimate and settling.settled else None,
        "time_left": _time_left(session) if estimate and not (stale or lacking) else None,
    }
    return body


def sighting(name: str, device: Device) -> dict[str, Any]:
    """Return one device of `PUT /live`."""
    return {
        "device": name,
        "place": device.place,
        "last_seen": rfc3339(device.seen_s),
        "readings": {
            quantity: {"value": round(last.value, 4), "unit": UNITS[quantity], "at": rfc3339(last.stamp_s)}
            for quantity, last in device.newest.items()
        },
    }


def batch(
    place: str | None,
    pipeline: Pipeline,
    hookups: Iterable[int],
    heard: Iterable[str],
    now_s: float,
    *,
    broker_lost_s: float | None = None,
) -> dict[str, Any]:
    """Return the body of one `PUT /live` about these hookups and devices, by a worker that may have lost its broker."""
    states = (_state(pipeline, number, now_s) for number in hookups)
    seen = (_seen(pipeline, name) for name in heard)
    body: dict[str, Any] = {
        "place": place,
        "hookups": [state for state in states if state is not None],
        "devices": [device for device in seen if device is not None],
    }
    # What follows is left out while there is nothing: a service of the version before knows no such fields.
    if broker_lost_s is not None:
        body["broker_lost_s"] = round(broker_lost_s, 1)
    if pipeline.misunderstood:
        body["not_understood"] = pipeline.misunderstood.take(MOST_NOT_UNDERSTOOD)
    return body


def _state(pipeline: Pipeline, number: int, now_s: float) -> dict[str, Any] | None:
    """Return one hookup as it is told; None for one that has ended or cannot be told, which must cost no other.

    One that was never heard has nothing to tell: stamped now it would win over a backlog, whose stamps are older.
    """
    if number not in pipeline.sessions:
        return None
    try:
        session = pipeline.sessions[number]
        if not session.newest_s > 0:
            return None
        return snapshot(session, pipeline.devices, now_s, disagreeing=pipeline.disagreeing(session))
    except Exception:
        pipeline.note_fault(f"live values of hookup {number}")
        return None


def _seen(pipeline: Pipeline, name: str) -> dict[str, Any] | None:
    try:
        return sighting(name, pipeline.devices[name]) if name in pipeline.devices else None
    except Exception:
        pipeline.note_fault(f"live values of {name}")
        return None


def _newest(devices: dict[str, Device], pressure: str, temperature: str) -> dict[str, float]:
    values: dict[str, float] = {}
    for name in (pressure, temperature):
        device = devices.get(name)
        if device is None:
            continue
        for quantity, last in device.newest.items():
            if quantity == "wall-temperature" and name != temperature:
                continue
            if quantity.endswith("-pressure") and quantity != "ambient-pressure" and name != pressure:
                continue
            values[quantity] = (
                min(values.get(quantity, last.value), last.value) if quantity == "battery" else last.value
            )
    return values


def _pair(estimate: Estimate) -> dict[str, Any]:
    return {
        "temperature_c": round(estimate.temp_k - 273.15, 3),
        "absolute_pressure_kpa": round(estimate.pressure_pa / 1e3, 3),
        "temperature_uncertainty_k": round(estimate.uncertainty_k, 3),
    }


def _time_left(session: Session) -> dict[str, float] | None:
    """Return the time left from the newest reading on; the filters' own time is the end of the last bin."""
    found = time_left(session.settling)
    if found is None:
        return None
    passed_s = session.newest_s - session.settling.time_s
    return {
        f"{name}_s": round(max(0.0, of - passed_s))
        for name, of in zip(("expected", "least", "most"), found, strict=True)
    }


def _rounded(value: float | None, factor: float = 1.0, shift: float = 0.0) -> float | None:
    return None if value is None else round(value * factor + shift, 4)
