"""The pure components that blends are made of, and the chemical family of each.

The family decides which average a missing binary pair gets (see ``pair_remedies``).
"""

from dataclasses import dataclass
from enum import StrEnum


class Family(StrEnum):
    """Chemical family of a pure refrigerant, as the binary pairs are averaged over."""

    CFC = "CFC"
    HCFC = "HCFC"
    HFC = "HFC"
    HFO = "HFO"
    HC = "HC"
    PFC = "PFC"
    ETHER = "RE170"
    OTHER = "other"


@dataclass(frozen=True, slots=True)
class Fluid:
    """A pure component: its designation, its name in the equation of state, its family."""

    designation: str
    model_name: str
    family: Family


def _fluids(family: Family, names: dict[str, str]) -> dict[str, Fluid]:
    return {designation: Fluid(designation, name, family) for designation, name in names.items()}


FLUIDS: dict[str, Fluid] = {
    **_fluids(
        Family.CFC,
        {"R-11": "R11", "R-12": "R12", "R-13": "R13", "R-113": "R113", "R-114": "R114", "R-115": "R115"},
    ),
    **_fluids(
        Family.HCFC,
        {
            "R-21": "R21",
            "R-22": "R22",
            "R-123": "R123",
            "R-124": "R124",
            "R-141b": "R141b",
            "R-142b": "R142b",
        },
    ),
    **_fluids(
        Family.HFC,
        {
            "R-23": "R23",
            "R-32": "R32",
            "R-41": "R41",
            "R-125": "R125",
            "R-134a": "R134a",
            "R-143a": "R143a",
            "R-152a": "R152A",
            "R-161": "R161",
            "R-227ea": "R227EA",
            "R-236ea": "R236EA",
            "R-236fa": "R236FA",
            "R-245ca": "R245ca",
            "R-245fa": "R245fa",
            "R-365mfc": "R365MFC",
        },
    ),
    **_fluids(
        Family.HFO,
        {
            "R-1123": "R1123",
            "R-1132(E)": "R1132(E)",
            "R-1224yd(Z)": "R1224YDZ",
            "R-1233zd(E)": "R1233zd(E)",
            "R-1234yf": "R1234yf",
            "R-1234ze(E)": "R1234ze(E)",
            "R-1234ze(Z)": "R1234ze(Z)",
            "R-1243zf": "R1243zf",
            "R-1336mzz(E)": "R1336mzz(E)",
            "R-1336mzz(Z)": "R1336mzz(Z)",
        },
    ),
    **_fluids(
        Family.HC,
        {
            "R-170": "Ethane",
            "R-290": "n-Propane",
            "R-600": "n-Butane",
            "R-600a": "IsoButane",
            "R-601": "n-Pentane",
            "R-601a": "Isopentane",
            "R-C270": "CycloPropane",
            "R-1150": "Ethylene",
            "R-1270": "Propylene",
        },
    ),
    **_fluids(Family.PFC, {"R-14": "R14", "R-116": "R116", "R-218": "R218", "R-C318": "RC318"}),
    **_fluids(Family.ETHER, {"R-E170": "DimethylEther"}),
    **_fluids(
        Family.OTHER,
        {
            "R-13I1": "R13I1",
            "R-40": "R40",
            "R-717": "Ammonia",
            "R-744": "CarbonDioxide",
            "R-744A": "NitrousOxide",
            "R-764": "SulfurDioxide",
            "R-1130(E)": "R1130(E)",
            "R-E143a": "HFE143m",
            "R-7146": "SulfurHexafluoride",
        },
    ),
}
"""Every pure component known here, by designation."""

LEFT_OUT: dict[str, str] = {
    "R-14": "critical temperature -45.6 C: no saturation between -40 and 60 C",
    "R-50": "critical temperature -82.6 C: no saturation between -40 and 60 C",
    "R-718": "water: solid over most of the range and never in a recovery cylinder as a refrigerant",
    "R-468A": "the component R-1132a has no equation of state here",
    "R-468B": "the component R-1132a has no equation of state here",
    "R-468C": "the component R-1132a has no equation of state here",
    "R-473A": "the component R-1132a has no equation of state here",
}
"""Designations that are not in the catalogue, with the reason."""
