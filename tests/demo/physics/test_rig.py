"""Where the instruments of a simulated cylinder sit: low or high on the wall, over the vapor or a full dip tube."""

from random import Random

import pytest

from demo.physics import ClampSpec, Cylinder, CylinderSpec, GaugeSpec, Rig, Surroundings
from tests.support.curves import saturated

ROOM = 294.0


def rig(start_k: float = ROOM, **where: float) -> Rig:
    cylinder = Cylinder(CylinderSpec(), saturated("R-134a"), 6.0, start_k)
    quiet = ClampSpec(lag_s=30.0, stem=0.0, noise_k=0.0, step_k=0.0)
    still = GaugeSpec(noise_pa=0.0, step_pa=0.0)
    return Rig(cylinder, quiet, still, ROOM, Random(1), **where)


def test_a_clamp_above_the_liquid_is_warmer_while_the_cylinder_warms() -> None:
    low, high = rig(start_k=ROOM - 12.0), rig(start_k=ROOM - 12.0, dry_share=1.0)
    for made in (low, high):
        for _ in range(600):
            made.step(5.0, Surroundings(ROOM))
    assert low.cylinder.wall_k == high.cylinder.wall_k
    assert high.clamp_reading() > low.clamp_reading() + 0.5


def test_a_full_dip_tube_takes_the_weight_of_its_column_off() -> None:
    plain, over_tube = rig(), rig(column_m=0.3)
    expected_pa = 1207.0 * 9.80665 * 0.3
    assert plain.gauge_reading() - over_tube.gauge_reading() == pytest.approx(expected_pa, rel=1e-3)


def test_a_dying_battery_adds_to_what_the_clamp_shows_and_not_to_what_it_is() -> None:
    made = rig()
    before = made.clamp_reading()
    made.clamp.sag_k = -2.0
    assert made.clamp_reading() == pytest.approx(before - 2.0)
    assert made.clamp.true_k == pytest.approx(before)


def test_a_column_that_the_pressure_cannot_carry_boils_away() -> None:
    tall = rig(column_m=1000.0)
    assert tall.pressure_at_gauge_pa == pytest.approx(0.9 * tall.cylinder.pressure_pa)


def test_vapour_drawn_for_an_hour_never_cools_the_liquid_out_of_all_reason() -> None:
    drawn = rig()
    for _ in range(720):
        drawn.step(5.0, Surroundings(ROOM, draw_kg_s=3e-3))
    assert 200.0 < drawn.cylinder.surface_k < ROOM
    assert drawn.cylinder.pressure_pa > 5e3
