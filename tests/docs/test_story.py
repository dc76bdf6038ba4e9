"""The README's story of the cylinder marked R-410A is what the engine says."""

import re

import pytest

from service.units import STANDARD_ATMOSPHERE_PA, k_from_f, pa_from_psi
from service.verdict.model import CylinderFacts, Pair
from service.wiring import verdict_engine
from tests.docs.source import ROOT

ROW = re.compile(
    r"^\| (R-410A|none) \| ([\d.]+) K .*? \| ([\d.]+) \| ([\d.]+) \| ([\d.]+) \| [^|]+ \|$", re.M
)
ROWS = ROW.findall((ROOT / "README.md").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def engine():
    return verdict_engine("north-america")


def test_the_story_is_there():
    assert len(ROWS) == 3


@pytest.mark.parametrize(
    ("label", "thermometer_k", "clean", "spoilt", "other"), ROWS, ids=lambda cell: str(cell)
)
def test_a_row_of_the_story(engine, label, thermometer_k, clean, spoilt, other):
    pair = Pair(
        temp_k=k_from_f(72),
        pressure_pa=pa_from_psi(198.6) + STANDARD_ATMOSPHERE_PA,
        temp_noise_k=float(thermometer_k),
        pressure_noise_pa=3000.0,
        temp_bias_k=0.3,
        pressure_bias_pa=3000.0,
        atmosphere_bias_pa=1000.0,
    )
    facts = CylinderFacts(claimed_designation=None if label == "none" else label)
    verdict = engine.verdict([pair], facts, explain=True)
    listed = {one.designation: one.probability for one in verdict.identity.candidates}
    assert listed.get("R-454B", 0.0) == pytest.approx(float(other), abs=0.05)
    assert listed.get("R-410A", 0.0) == pytest.approx(float(clean) + float(spoilt), abs=0.05)
    if label != "none":
        told = next(reason for reason in verdict.reasons if reason.startswith("The label says"))
        said = [float(number) for number in re.findall(r"\b[01]\.\d\d\b", told)]
        assert said[:2] == pytest.approx([float(clean), float(spoilt)], abs=0.05)
