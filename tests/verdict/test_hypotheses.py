import numpy as np
import pytest

from service.verdict import hypothesis_curves
from service.verdict.closed_cylinder import ChargeBook
from service.verdict.hypotheses import build_space

TEMP = np.array([285.0, 298.15, 310.0])


@pytest.fixture(scope="module")
def space(engine):
    return engine.space


def test_clean_rows_follow_the_curve(space, curves):
    index = curves.index("R-22")
    row = space.row("none", index, 4)
    assert np.allclose(space.log_pressure(TEMP, [row])[0], curves.log_bubble_pressure(TEMP)[index], atol=2e-6)


def test_a_zeotrope_stands_lower_when_nearly_empty(space, curves):
    index = curves.index("R-407C")
    fills = [space.row("none", index, i) for i in range(space.fill.nodes.size)]
    assert (np.diff(space.log_pressure(TEMP[1:2], fills)[:, 0]) > 0).all()


def test_air_adds_its_pressure_at_25_c(space, curves):
    index = curves.index("R-22")
    row = space.row("air", index, 10, 2)
    added = np.exp(space.log_pressure(TEMP, [row])[0]) - np.exp(curves.log_bubble_pressure(TEMP)[index])
    assert added[1] == pytest.approx(space.air.nodes[10], rel=1e-3)
    assert (np.diff(added) > 0).all()


def test_air_is_squeezed_when_the_liquid_swells(curves):
    growth = hypothesis_curves.air_growth(curves, "R-22", np.array([0.1, 0.69]), 0.0, TEMP)
    ideal = TEMP / 298.15
    assert growth[0, 2] == pytest.approx(ideal[2], rel=0.01)
    assert growth[1, 2] > 1.05 * ideal[2]
    dissolving = hypothesis_curves.air_growth(curves, "R-22", np.array([0.69]), 0.6, TEMP)
    assert ideal[2] < dissolving[0, 2] < growth[1, 2]


def test_mixtures_follow_the_line_and_the_tabulated_bend(space, curves):
    first, second = curves.index("R-22"), space.contaminants.index("R-134a")
    at = 20
    w = space.share.nodes[at]
    pure = curves.log_bubble_pressure(TEMP)
    expected = (1 - w) * pure[first] + w * pure[curves.index("R-134a")] + 0.06 * w * (1 - w)
    assert np.allclose(
        space.log_pressure(TEMP, [space.row("mixed", first, second, at)])[0], expected, atol=1e-5
    )


def test_nothing_is_mixed_with_itself_and_pure_ones_do_not_shift(space, curves):
    block = space.blocks["mixed"]
    for s, name in enumerate(space.contaminants):
        assert not block.possible[curves.index(name), s]
    shifted = space.blocks["shifted"].possible
    assert not shifted[curves.index("R-22")]
    assert shifted[curves.index("R-407C")]


def test_saturation_temperatures_invert_the_curves(space, curves):
    index = np.array([curves.index("R-22"), curves.index("R-134a")])
    temp = space.saturation_temp_k(float(np.log(900e3)), 298.0, index)
    assert np.allclose(temp, curves.bubble_temps_k(900e3)[index, 0], atol=1e-3)


def test_a_missing_mixture_is_left_out(curves, surfaces):
    gone = type(surfaces)()
    gone.mixture[0, 1] = np.nan
    assert not build_space(curves, gone, ChargeBook(curves, gone)).blocks["mixed"].possible[0, 1]


def test_cubic_weights_reproduce_a_cubic():
    nodes = np.array([0.0, 1.0, 2.5, 3.0, 4.5])
    wanted = np.array([0.3, 2.0, 4.4])
    assert np.allclose(hypothesis_curves.cubic_weights(nodes, wanted) @ nodes**3, wanted**3)


def test_a_shift_that_hardly_moves_a_blend_counts_as_none(engine):
    """R-410A can be called clean, however much vapor it may have lost; a blend with glide still shows it."""
    space = engine.space
    r410a, r407c = (space.designations.index(name) for name in ("R-410A", "R-407C"))
    states, block = list(space.blocks), space.blocks["shifted"]
    assert space.negligible[r410a].all()
    assert not space.negligible[r407c, -1]
    assert {states[s] for s in space.row_state[block.rows].reshape(block.shape)[r410a]} == {"none"}
