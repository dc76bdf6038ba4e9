"""Simulated cylinders and instruments: ordinary heat balances with drawn parameters, no real device.

`Rig` is the way in: one cylinder with its clamp and its gauge, stepped by the caller,
who owns time and the seed.
"""

from demo.physics.contents import Saturated, VapourOnly, with_air
from demo.physics.cylinder import Cylinder, CylinderSpec, Surroundings
from demo.physics.instruments import Clamp, ClampSpec, Gauge, GaugeSpec
from demo.physics.rig import Rig

__all__ = [
    "Clamp",
    "ClampSpec",
    "Cylinder",
    "CylinderSpec",
    "Gauge",
    "GaugeSpec",
    "Rig",
    "Saturated",
    "Surroundings",
    "VapourOnly",
    "with_air",
]
