import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.cylinders.filling import MARGIN_55, filling_breaches, filling_limit, worst_limit
from service.cylinders.properties import liquid_fraction, liquid_full_temp_k
from service.cylinders.water_capacity import WATER_KG_M3
from service.units import c_from_k, kg_from_lb, lb_from_kg
from tests.cylinders.conftest import checks

DESIGNATIONS = [name for name, row in checks().items() if row["mass_liquid_full_at_55C_as_pct_of_water_60F"]]


def test_guideline_k_example(knowledge):
    # AHRI Guideline K as a trade journal reports it: R-22, specific gravity 1.197 at 77 °F, 1000 lb water,
    # tare 380 lb:
    # 957.6 lb net, 1337.6 lb gross. Computed densities differ from the published gravity by 0.25 %; 0.5 %
    # allowed.
    limit = filling_limit("R-22", kg_from_lb(1000.0), knowledge)
    assert limit.governing.rule.code == "fill-80-percent"
    assert lb_from_kg(limit.mass_kg) == pytest.approx(957.6, rel=0.005)
    assert lb_from_kg(limit.mass_kg) + 380.0 == pytest.approx(1337.6, rel=0.005)


@pytest.mark.parametrize("designation", DESIGNATIONS)
def test_limits_against_the_computed_table(designation, knowledge, reference_rows):
    # computed_checks_coolprop.csv (computed), reckoned with water of 999.0 kg/m3 and printed to 0.1; the
    # law's pound of
    # water takes 0.11 % more volume.
    row = reference_rows[designation]
    limits = {one.rule.code: one.mass_kg for one in filling_limit(designation, 100.0, knowledge).limits}
    printed_80 = float(row["mass_at_80pct_volume_25C_as_pct_of_water_60F"]) * 999.0 / WATER_KG_M3
    printed_55 = float(row["mass_liquid_full_at_55C_as_pct_of_water_60F"]) * 999.0 / WATER_KG_M3
    assert limits["fill-80-percent"] == pytest.approx(printed_80, abs=0.06)
    assert limits["fill-55c"] == pytest.approx(MARGIN_55 * printed_55, abs=0.06)


def test_r125_is_limited_by_55_degrees_and_not_by_80_percent(knowledge):
    # Reference finding (computed): the density ratio 55/25 °C of R-125 is 0.795, under 0.80.
    assert filling_limit("R-125", 20.0, knowledge).governing.rule.code == "fill-55c"
    for other in ("R-507A", "R-410A", "R-404A", "R-22", "R-134a"):
        assert filling_limit(other, 20.0, knowledge).governing.rule.code == "fill-80-percent", other


def test_propane_is_limited_by_its_specific_gravity(knowledge):
    # 173.304a(d)(1): 42 % for 0.504 to 0.510 at 60 °F (2015 edition, read).
    codes = {one.rule.code for one in filling_limit("R-290", 20.0, knowledge).limits}
    assert "fill-density-lpg" in codes


def test_every_broken_filling_rule_is_listed(knowledge):
    limit = filling_limit("R-22", 20.0, knowledge)
    assert filling_breaches(limit, limit.mass_kg) == []
    assert {breach.rule.code for breach in filling_breaches(limit, 30.0)} == {
        "fill-80-percent", "fill-55c", "fill-density",
    }  # fmt: skip
    assert [breach.rule.code for breach in filling_breaches(None, 1.0)] == ["capacity-unknown"]


def test_a_gas_without_liquid_when_hot_and_without_a_listed_density_is_not_filled(shipped):
    (limit,) = filling_limit("R-41", 20.0, shipped).limits
    assert (limit.rule.code, limit.mass_kg) == ("fill-55c", 0.0)


def test_the_worst_candidate_decides(knowledge):
    assert worst_limit(["R-22", "R-32", "R-134a"], 20.0, knowledge).designation == "R-32"


@given(mass=st.floats(1.0, 20.0), designation=st.sampled_from(DESIGNATIONS))
def test_liquid_full_temperature_is_where_the_fraction_reaches_one(knowledge, mass, designation):
    temp = liquid_full_temp_k(knowledge.saturation, designation, net_mass_kg=mass, water_capacity_kg=20.0)
    if temp is None:
        return
    low, high = knowledge.saturation.temp_range_k(designation)
    if temp <= low + 0.5 or temp >= high - 0.5:
        return
    fraction = [
        liquid_fraction(
            knowledge.saturation, designation, net_mass_kg=mass, water_capacity_kg=20.0, temp_k=temp + step
        )
        for step in (-0.5, 0.05)
    ]
    assert fraction[0] < 1.0 and fraction[1] == 1.0


def test_at_the_55_degree_limit_the_cylinder_fills_at_55_degrees(knowledge):
    limits = {one.rule.code: one.mass_kg for one in filling_limit("R-125", 20.0, knowledge).limits}
    temp = liquid_full_temp_k(
        knowledge.saturation, "R-125", net_mass_kg=limits["fill-55c"] / MARGIN_55, water_capacity_kg=20.0
    )
    assert c_from_k(temp) == pytest.approx(55.0, abs=0.02)
