import numpy as np
import pytest

from service.verdict.model import CylinderFacts


def test_everything_sums_to_one(engine, at):
    found = engine.infer([at("R-22")])
    assert found.identity.sum() + found.something_else == pytest.approx(1.0, abs=1e-5)
    assert sum(found.contamination.values()) == pytest.approx(float(found.rows.sum()), abs=1e-5)


def test_the_clean_curve_names_its_refrigerant(engine, at, curves):
    for name in ("R-22", "R-404A", "R-407C", "R-123"):
        found = engine.infer([at(name)])
        assert engine.space.designations[int(found.identity.argmax())] == name


def test_ten_copies_hardly_move_what_bias_dominates(engine, at):
    one = engine.infer([at("R-410A", factor=0.985)])
    ten = engine.infer([at("R-410A", factor=0.985)] * 10)
    assert np.abs(one.identity - ten.identity).max() < 0.02


def test_pairs_apart_in_temperature_do_move_it(engine, at):
    one = engine.infer([at("R-134a", factor=1.02, temp_bias_k=0.6)])
    apart = engine.infer([at("R-134a", t, 1.02, temp_bias_k=0.6) for t in (283.15, 298.15, 313.15)])
    kept = float(one.by_state["none"][engine.space.designations.index("R-134a")])
    left = float(apart.by_state["none"][engine.space.designations.index("R-134a")])
    assert abs(kept - left) > 0.02


def test_a_fill_that_is_known_explains_a_low_zeotrope(engine, at, curves):
    index = curves.index("R-407C")
    nearly_empty = 0.08 * 1134 + 0.92 * 43.8
    low = at("R-407C", factor=float(np.exp(-0.15 * 0.7 * np.exp(-0.08 / 0.12))))
    unknown = engine.infer([low], CylinderFacts(claimed_designation="R-407C"))
    known = engine.infer(
        [low],
        CylinderFacts(claimed_designation="R-407C", water_volume_m3=0.02, net_mass_kg=0.02 * nearly_empty),
    )
    assert known.by_state["none"][index] > unknown.by_state["none"][index] + 0.1


def test_log_evidence_is_a_density(engine, at):
    near = engine.infer([at("R-22")]).log_evidence
    far = engine.infer([at("R-22", factor=6.0)]).log_evidence
    assert near > far


def test_a_negligible_shift_is_told_as_none(engine, at):
    found = engine.infer([at("R-410A")], CylinderFacts(claimed_designation="R-410A"))
    index = engine.space.designations.index("R-410A")
    block = engine.space.blocks["shifted"]
    assert found.rows[block.rows].reshape(block.shape)[index].sum() > 0.01
    assert found.by_state["shifted"][index] < 1e-6
    assert found.identity.sum() + found.something_else == pytest.approx(1.0, abs=1e-4)
