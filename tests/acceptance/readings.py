"""Readings of a simulated cylinder as packs, for devices with names of the test's choosing."""

from dataclasses import replace
from typing import Any

from demo.scenario import DemoCylinder, load_scenario
from demo.station import Station

PERIOD_S = 10.0
CHUNK_S = 60.0


def at_rest(serial: str, device: str) -> DemoCylinder:
    """A cylinder of the scenario that stands at its air's temperature, with one device for both readings."""
    scenario = load_scenario()
    cylinder = next(one for one in scenario.cylinders if one.serial == serial)
    return replace(
        cylinder,
        gauge=replace(cylinder.gauge, device=device),
        clamp=replace(cylinder.clamp, device=device),
    )


def packs(serial: str, device: str, began_at: float, hours: float, seed: int) -> list[tuple[str, str, Any]]:
    """Packs of one minute each, from `began_at` [s since 1970] on for some hours [h]."""
    cylinder = at_rest(serial, device)
    station = Station(cylinder, load_scenario().places[cylinder.place], 0.0, seed)
    found = []
    at_s = 0.0
    while at_s + CHUNK_S <= hours * 3600.0:
        at_s += CHUNK_S
        station.advance(at_s, PERIOD_S, publish_from_s=0.0)
        found += [(cylinder.place, name, pack) for name, pack in station.packs(began_at).items()]
    return found
