from dataclasses import dataclass
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.cylinders.judgement.causes import Cause, Kind
from service.cylinders.recovery import (
    HOSE_KG,
    LEAD_S,
    METHODS,
    call,
    fill_rate_kg_s,
    needs_explaining,
    share_out,
)
from service.cylinders.recovery_vacuum import (
    IN_HG_PA,
    PressureClass,
    held_minutes,
    level,
    pressure_class,
    small_appliance_level,
)
from service.store.artefacts import load_curves
from service.units import STANDARD_ATMOSPHERE_PA, kg_from_lb, pa_from_psi

MASSES = st.floats(0.0, 500.0)
RATES = st.floats(0.0, 0.2)
OLD, NEW = date(1993, 11, 14), date(1993, 11, 15)


@given(expected=MASSES, rooms=st.lists(MASSES, min_size=1, max_size=5))
def test_a_charge_is_shared_out_whole_and_no_cylinder_takes_more_than_its_room(expected, rooms):
    plan = share_out(expected, rooms)
    assert sum(plan.takes_kg) + plan.short_kg == pytest.approx(expected)
    assert all(0.0 <= take <= room for take, room in zip(plan.takes_kg, rooms, strict=True))
    assert plan.short_kg == pytest.approx(max(0.0, expected - sum(rooms)), abs=1e-9)


def test_eleven_pounds_for_a_room_of_eight_need_a_second_cylinder():
    assert share_out(11.0, [8.0]).short_kg == 3.0
    assert share_out(11.0, [8.0, 20.0]).takes_kg == (8.0, 3.0)
    assert share_out(None, [8.0]).short_kg is None
    with pytest.raises(ValueError, match="rooms_kg must be at least 0, got -1"):
        share_out(1.0, [-1.0])


@given(gross=MASSES, target=MASSES, rate=RATES, method=st.sampled_from(METHODS))
def test_what_runs_in_after_the_call_never_passes_the_limit(gross, target, rate, method):
    told = call(gross, target, rate_kg_s=rate, method=method)
    if told.state != "stop":
        assert gross + rate * LEAD_S[method] + HOSE_KG[method] <= target + 1e-9
    assert told.stop_at_kg < target


@given(gross=MASSES, target=MASSES, slow=RATES, more=RATES)
def test_a_faster_fill_is_never_told_to_stop_later(gross, target, slow, more):
    first = call(gross, target, rate_kg_s=slow, method="liquid")
    second = call(gross, target, rate_kg_s=slow + more, method="liquid")
    assert second.stop_at_kg <= first.stop_at_kg
    assert not (first.state == "stop" and second.state != "stop")


def test_without_a_scale_nothing_says_go():
    assert call(None, 20.0, rate_kg_s=None, method="vapour").state == "unknown"


@pytest.mark.parametrize(
    ("kind", "severity", "state"),
    [
        (Kind.HOT, "warning", "go"),
        (Kind.HOT, "critical", "stop"),
        (Kind.PRESSURE, "warning", "stop"),
        (Kind.OVERDUE, "notice", "go"),
    ],
)
def test_heat_and_pressure_stop_it_whatever_the_weight(kind, severity, state):
    cause = Cause(kind, severity, "words", None)
    told = call(10.0, 20.0, rate_kg_s=0.01, method="vapour", causes=[cause])
    assert told.state == state and told.causes == (("words",) if state == "stop" else ())


@given(rate=RATES, start=MASSES)
def test_the_rate_of_a_steady_fill_is_found(rate, start):
    points = [(15.0 * step, start + 15.0 * step * rate) for step in range(6)]
    assert fill_rate_kg_s(points) == pytest.approx(rate, abs=1e-6)


def test_a_rate_that_has_just_risen_counts_at_once_and_one_point_tells_none():
    points = [(0.0, 10.0), (15.0, 10.0), (30.0, 10.0), (45.0, 11.5)]
    assert fill_rate_kg_s(points) == pytest.approx(0.1)
    assert fill_rate_kg_s(points[:1]) is None
    assert fill_rate_kg_s([(0.0, 10.0), (5.0, 11.0)]) is None
    assert fill_rate_kg_s([(0.0, 10.0), (20.0, 9.0)]) == 0.0


def test_a_difference_is_asked_about_beyond_a_tenth_and_half_a_pound():
    assert not needs_explaining(10.0, 9.1) and needs_explaining(10.0, 8.9) and needs_explaining(10.0, 11.1)
    assert not needs_explaining(0.5, 0.3) and not needs_explaining(None, 3.0)


# 40 CFR 82.156(a), table 1, as a mirror of the regulation gives it: read. In Hg below 29.9 in Hg.
@pytest.mark.parametrize(
    ("held", "pounds", "old", "new"),
    [
        (PressureClass.VERY_HIGH, 500.0, 0.0, 0.0),
        (PressureClass.HIGH, 199.0, 0.0, 0.0),
        (PressureClass.HIGH, 200.0, 4.0, 10.0),
        (PressureClass.MEDIUM, 199.0, 4.0, 10.0),
        (PressureClass.MEDIUM, 200.0, 4.0, 15.0),
    ],
)
def test_the_levels_are_those_of_table_1(held, pounds, old, new):
    for made_on, in_hg in ((OLD, old), (NEW, new), (None, new)):
        found = level(held, kg_from_lb(pounds), made_on)
        assert found.pressure_pa == pytest.approx(STANDARD_ATMOSPHERE_PA - in_hg * IN_HG_PA)


def test_what_is_not_known_asks_for_more():
    assert level(PressureClass.LOW, 5.0, NEW).pressure_pa == pytest.approx(3333.1, abs=0.5)
    assert level(None, 5.0, NEW).pressure_pa == level(PressureClass.LOW, 5.0, NEW).pressure_pa
    assert (
        level(PressureClass.HIGH, None, NEW).pressure_pa == level(PressureClass.HIGH, 500.0, NEW).pressure_pa
    )


def test_no_equipment_above_the_air_outside_has_been_evacuated():
    high = level(PressureClass.HIGH, kg_from_lb(11.0), NEW)
    assert high.is_met(83_000.0, 83_400.0) and not high.is_met(90_000.0, 83_400.0)
    assert high.is_met(STANDARD_ATMOSPHERE_PA, STANDARD_ATMOSPHERE_PA) and not high.is_met(None, 83_400.0)


def test_a_small_appliance_has_a_share_or_four_inches():
    found = small_appliance_level(NEW, compressor_runs=True)
    assert (
        found.share == 0.9 and found.is_met(None, 101_325.0, 0.9) and not found.is_met(None, 101_325.0, 0.89)
    )
    assert found.is_met(101_325.0 - 4.0 * IN_HG_PA, 101_325.0)
    assert small_appliance_level(OLD, compressor_runs=True).share == 0.8
    assert small_appliance_level(NEW, compressor_runs=False).share == 0.8


# Which refrigerants the agency names in each class of 82.152: from memory.
@pytest.mark.parametrize(
    ("designation", "held"),
    [
        ("R-744", PressureClass.VERY_HIGH),
        ("R-23", PressureClass.VERY_HIGH),
        ("R-410A", PressureClass.HIGH),
        ("R-22", PressureClass.HIGH),
        ("R-404A", PressureClass.HIGH),
        ("R-134a", PressureClass.MEDIUM),
        ("R-12", PressureClass.MEDIUM),
        ("R-123", PressureClass.LOW),
    ],
)
def test_classes_of_the_refrigerants_of_the_field(designation, held):
    assert pressure_class(designation, load_curves()) is held
    assert pressure_class(None, load_curves()) is None


@dataclass
class EndsCold:
    """A curve that ends below 104 °F at some pressure [Pa]."""

    at_end_pa: float

    def temp_range_k(self, designation):
        return 230.0, 300.0

    def bubble_pressure_pa(self, designation, temp_k):
        assert temp_k <= 300.0
        return self.at_end_pa


def test_a_curve_that_ends_early_tells_only_the_highest_class():
    assert pressure_class("R-X", EndsCold(pa_from_psi(400.0))) is PressureClass.VERY_HIGH
    assert pressure_class("R-X", EndsCold(pa_from_psi(300.0))) is None


@pytest.mark.parametrize(
    ("designation", "held"),
    [
        ("R-13", PressureClass.VERY_HIGH), ("R-503", PressureClass.VERY_HIGH),
        *((name, PressureClass.HIGH) for name in (
            "R-401A", "R-409A", "R-401B", "R-411A", "R-22", "R-411B", "R-502", "R-402B", "R-408A", "R-402A")),
        *((name, PressureClass.MEDIUM) for name in ("R-114", "R-124", "R-12", "R-401C", "R-406A", "R-500")),
        *((name, PressureClass.LOW) for name in ("R-11", "R-123", "R-113")),
    ],
)  # fmt: skip
def test_the_law_names_these_refrigerants_for_each_class(designation, held):
    """40 CFR 82.152, 2015 edition, read: the lists in the definitions of the four classes."""
    assert pressure_class(designation, load_curves()) is held


@pytest.mark.parametrize(
    ("readings", "minutes"),
    [
        ([], 0.0),
        ([(0.0, 9e4)], 0.0),
        ([(0.0, 9e4), (300.0, 9.5e4)], 5.0),
        ([(0.0, 9e4), (200.0, 1.01e5), (260.0, 9e4), (320.0, 9e4)], 1.0),
        ([(0.0, 9e4), (300.0, 1.01e5)], 0.0),
    ],
)
def test_a_vacuum_has_held_since_it_last_rose_above_the_level(readings, minutes):
    assert held_minutes(readings, 1e5) == pytest.approx(minutes)
