"""SAE J1989 Table 1, R-12: the greatest pressure of a container that passes as free of excess air.

Source: 40 CFR part 82 subpart B Appendix A, read in the 2015 edition. The limits lie 9.4 to 12.5 psi above
saturation, so at each of them clean R-12 must be ruled out. The instrument: what the standard asks for, a gauge
with 1 psi divisions (taken as 0.5 psi), and a thermometer good to 0.5 °F (common practice, no source).
"""

import csv
from pathlib import Path

import pytest

from service.store.artefacts import load_catalogue, load_curves, load_surfaces
from service.store.prevalence import load_prevalence
from service.units import k_from_f, pa_from_psi
from service.verdict.engine import VerdictEngine
from service.verdict.model import CylinderFacts
from tests.outside.test_field_readings import reading

TABLE = Path(__file__).parent / "data" / "sae_j1989_r12_air.csv"
ROWS = [
    (float(row["air_temp_f"]), float(row["max_container_pressure_psig"]))
    for row in csv.DictReader(TABLE.read_text(encoding="utf-8").splitlines())
]
R12 = CylinderFacts(claimed_designation="R-12")


@pytest.fixture(scope="module")
def engine():
    return VerdictEngine(load_curves(), load_surfaces(), load_catalogue(), load_prevalence())


def rivals_within_a_kelvin(temp_f, gauge_psi):
    """Other designations of the field whose clean curve passes within 1 K of the reading."""
    curves, common = load_curves(), load_prevalence().weights
    pair = reading(temp_f, gauge_psi, 0.5)
    found = []
    for name in common:
        low, high = curves.temp_range_k(name)
        if name == "R-12" or not low <= pair.temp_k <= high:
            continue
        clean = float(curves.bubble_pressure_pa(name, pair.temp_k))
        if abs(clean / pair.pressure_pa - 1) < 0.028:
            found.append(name)
    return found


def test_the_table_is_whole():
    assert len(ROWS) == 50
    assert [t for t, _ in ROWS] == list(range(65, 115))


@pytest.mark.parametrize(("temp_f", "gauge_psi"), ROWS)
def test_the_limit_rules_out_clean_r12(engine, temp_f, gauge_psi):
    found = engine.infer([reading(temp_f, gauge_psi, 0.5)], R12)
    assert float(found.by_state["none"][engine.space.designations.index("R-12")]) < 1e-3


@pytest.mark.parametrize(("temp_f", "gauge_psi"), ROWS)
def test_it_is_called_air_where_nothing_else_fits_as_well(engine, temp_f, gauge_psi):
    verdict = engine.verdict([reading(temp_f, gauge_psi, 0.5)], R12)
    rivals = rivals_within_a_kelvin(temp_f, gauge_psi)
    if not set(rivals) & {"R-134a"}:
        assert verdict.contamination.finding == "air"
        assert verdict.identity.candidates[0].designation == "R-12"
        air = verdict.contamination.air
        assert air.partial_pressure_low_pa < pa_from_psi(13) and air.partial_pressure_high_pa > pa_from_psi(8)
    else:
        assert "R-134a" in " ".join(verdict.reasons)


def test_toward_100_f_clean_r134a_comes_near_and_is_named(engine):
    near = [temp for temp, gauge in ROWS if "R-134a" in rivals_within_a_kelvin(temp, gauge)]
    assert near
    assert min(near) >= 95
    for temp_f in (104, 110):
        gauge_psi = dict(ROWS)[temp_f]
        verdict = engine.verdict([reading(temp_f, gauge_psi, 0.5)], R12)
        assert any(c.designation == "R-134a" and c.probability > 0.1 for c in verdict.identity.candidates)


def test_the_limit_temperatures_are_ordinary():
    assert k_from_f(65) < k_from_f(114) < 325.15
