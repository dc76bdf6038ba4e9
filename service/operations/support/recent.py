"""What the devices on cylinders said of late, where it may show that liquid boils off."""

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any

from service.codes import SettlingState
from service.cylinders.boiling import BEFORE_S, USUAL_LAG_S, Moment, Recent
from service.store import devices, live
from service.store.hookups import Hookup
from service.store.work import Work

FALLING = frozenset({SettlingState.COOLING, SettlingState.SETTLING, SettlingState.DISTURBED})
"""Settling states in which a wall may be falling."""
HEARD_WITHIN = timedelta(minutes=10)
THERMOMETERS = ("wall-temperature", "ambient-temperature")


def of_hookups(work: Work, hookups: Sequence[Hookup], at: datetime) -> dict[int, Recent]:
    """
    The last half hour by cylinder, in two queries however many there are.

    Parameters
    ----------
    work
        The open transaction, with the newest points in it.
    hookups
        Those whose wall may be falling.
    at
        Now.
    """
    if not hookups:
        return {}
    courses = live.traces_since(work, [one.id for one in hookups], at - timedelta(seconds=BEFORE_S))
    nearby = devices.heard_at(work, {one.place for one in hookups}, at - HEARD_WITHIN)
    found = {}
    for one in hookups:
        course = [
            Moment(point.at.timestamp(), point.temp_k, point.pressure_pa)
            for point in courses.get(one.id, ())
            if point.temp_k is not None
        ]
        lag_s = USUAL_LAG_S if one.probe_lag_s is None else one.probe_lag_s
        others = [
            device for device in nearby if device.place == one.place and device.name != one.temperature_device
        ]
        found[one.cylinder_id] = Recent(
            course, lag_s, [k for device in others for k in _temps_k(device.readings)]
        )
    return found


def _temps_k(readings: Mapping[str, Any]) -> list[float]:
    return [float(readings[name]["value"]) for name in THERMOMETERS if name in readings]
