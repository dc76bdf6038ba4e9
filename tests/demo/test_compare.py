"""The demo's own judge: what counts as within a verdict and what does not."""

import copy

import pytest

from demo.compare import compare
from demo.scenario import Truth

CLEAN = Truth("R-22", 9.0, "two-phase")
VERDICT = {
    "identity": {"finding": "identified", "candidates": [{"designation": "R-22", "probability": 0.97}]},
    "contamination": {
        "finding": "none-detected",
        "probabilities": {"none": 0.94, "air": 0.03, "shifted": 0.0, "mixed": 0.03},
        "air": None,
        "detection_limits": [
            {"contaminant": "air", "partial_pressure_kpa": 20.0},
            {"contaminant": "R-410A", "mass_fraction": 0.04},
        ],
    },
    "contents_state": {"probabilities": {"two-phase": 0.99, "vapour-only": 0.01, "liquid-full": 0.0}},
}


def verdict(**changes):
    changed = copy.deepcopy(VERDICT)
    for path, value in changes.items():
        part, name = path.split("__")
        changed[part][name] = value
    return changed


AIR = {"partial_pressure_low_kpa": 40.0, "partial_pressure_high_kpa": 75.0}
SAYS_AIR = verdict(
    contamination__finding="air",
    contamination__probabilities={"none": 0.01, "air": 0.95, "shifted": 0.0, "mixed": 0.04},
    contamination__air=AIR,
)


@pytest.mark.parametrize(
    ("truth", "said"),
    [
        (CLEAN, VERDICT),
        (Truth("R-22", 9.0, "two-phase", air_kpa=10.0), VERDICT),
        (Truth("R-22", 9.0, "two-phase", mixed_with="R-410A", mixed_fraction=0.02), VERDICT),
        (Truth("R-22", 9.0, "two-phase", air_kpa=60.0), SAYS_AIR),
        (CLEAN, verdict(identity__finding="unrecognised", identity__candidates=[])),
    ],
    ids=["clean", "air below the limit", "mixture below the limit", "air found", "no claim made"],
)
def test_within(truth, said):
    assert compare(truth, said).within


@pytest.mark.parametrize(
    ("truth", "said", "reason"),
    [
        (Truth("R-134a", 9.0, "two-phase"), VERDICT, "R-134a is not in the 95 % set (R-22)"),
        (Truth("R-22", 9.0, "two-phase", air_kpa=60.0), VERDICT, "air is given 0.03, and it is above"),
        (
            Truth("R-22", 9.0, "two-phase", mixed_with="R-410A", mixed_fraction=0.3),
            VERDICT,
            "mixed is given 0.03, and it is above",
        ),
        (CLEAN, SAYS_AIR, "clean, and called air"),
        (Truth("R-22", 9.0, "two-phase", air_kpa=90.0), SAYS_AIR, "90 kPa of air, outside 40 to 75"),
        (Truth("R-22", 0.3, "vapour-only"), VERDICT, "vapour-only is given 0.01"),
    ],
)
def test_outside(truth, said, reason):
    comparison = compare(truth, said)
    assert not comparison.within
    assert reason in comparison.disagreements[0]
