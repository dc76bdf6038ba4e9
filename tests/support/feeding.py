"""Packs of simulated cylinders for tests: what a gateway would publish, with its times."""

from __future__ import annotations

import json
from random import Random
from typing import NamedTuple

from demo.physics import ClampSpec, Cylinder, CylinderSpec, GaugeSpec, Rig, Surroundings
from tests.support.curves import saturated

START = 1.7e9


class Made(NamedTuple):
    """One pack: when it was made, the topic's device, the payload."""

    stamp_s: float
    device: str
    payload: bytes


def rig(seed: int, designation: str = "R-134a", room_k: float = 294.0, clamp_k: float = 303.0) -> Rig:
    """Return a cylinder at the room's temperature with a clamp that has just been put on."""
    rng = Random(seed)
    cylinder = Cylinder(CylinderSpec(), saturated(designation), 10.0, room_k + 0.3)
    made = Rig(cylinder, ClampSpec(lag_s=rng.uniform(25, 90)), GaugeSpec(), room_k, rng)
    made.clamp.move(clamp_k)
    return made


def pack_of(made: Rig, device: str, stamp_s: float) -> Made:
    """Return the pack of one device that serves as clamp and gauge, as it reads now."""
    records = [
        {"bn": f"{device}:", "bt": stamp_s, "n": "gauge-pressure", "u": "Pa", "v": made.gauge_reading()},
        {"n": "wall-temperature", "u": "Cel", "v": made.clamp_reading() - 273.15},
    ]
    return Made(stamp_s, device, json.dumps(records).encode())


def one_device(
    device: str, seed: int, duration_s: float = 1800.0, period_s: float = 10.0, start_s: float = START
) -> list[Made]:
    """Return the packs of one device that serves as clamp and gauge."""
    made = rig(seed)
    packs = []
    for i in range(int(duration_s / period_s)):
        made.step(period_s, Surroundings(294.0))
        packs.append(pack_of(made, device, start_s + (i + 1) * period_s))
    return packs


def two_devices(
    gauge: str, clamp: str, seed: int, duration_s: float = 1800.0, start_s: float = START
) -> list[Made]:
    """Return the packs of a gauge every 7 s and of a clamp every 4 s, in order of time."""
    made = rig(seed)
    packs = []
    for second in range(1, int(duration_s)):
        made.step(1.0, Surroundings(294.0))
        stamp = start_s + second
        if second % 7 == 0:
            record = {"n": "gauge-pressure", "u": "Pa", "bt": stamp, "v": made.gauge_reading()}
            packs.append(Made(stamp, gauge, json.dumps([record]).encode()))
        if second % 4 == 0:
            record = {"n": "wall-temperature", "u": "K", "bt": stamp, "v": made.clamp_reading()}
            packs.append(Made(stamp, clamp, json.dumps([record]).encode()))
    return packs
