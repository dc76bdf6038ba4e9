from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.cylinders.appliances import (
    HFC_LEAKS,
    ODS_LEAKS,
    Addition,
    Kind,
    Method,
    annualized_rate,
    applicable_rule,
    leak_rate,
    rolling_rate,
)
from service.units import kg_from_lb

DAY = date(2026, 6, 30)


def added(pounds, days_ago):
    return Addition(DAY - timedelta(days=days_ago), kg_from_lb(pounds))


@pytest.mark.parametrize(
    ("pounds", "charge", "days", "percent"),
    [
        # Worked examples of public guides to 40 CFR 82.152, read: 10 lb into 100 lb after 180 days is 20.27 %; 2 lb
        # into 50 lb after 30 days is 48.7 %; a first addition counts over the whole year.
        (10.0, 100.0, 180, 20.27), (2.0, 50.0, 30, 48.7), (10.0, 100.0, None, 10.0), (10.0, 100.0, 800, 10.0),
    ],
)  # fmt: skip
def test_annualized(pounds, charge, days, percent):
    additions = ([] if days is None else [added(5.0, days)]) + [added(pounds, 0)]
    assert 100.0 * annualized_rate(additions, kg_from_lb(charge)) == pytest.approx(percent, abs=0.05)


def test_rolling_adds_up_a_year_or_the_time_since_the_repair():
    # 40 CFR 82.152 as public guides report it: over the past 365 days, or since leaks were last repaired if less.
    additions = [added(20.0, 366), added(6.0, 300), added(4.0, 100), added(2.0, 0)]
    assert rolling_rate(additions, kg_from_lb(100.0), on=DAY) == pytest.approx(0.12)
    repaired = DAY - timedelta(days=150)
    assert rolling_rate(additions, kg_from_lb(100.0), on=DAY, repaired_on=repaired) == pytest.approx(0.06)


@pytest.mark.parametrize(
    ("kind", "trigger"),
    [(Kind.COMFORT_COOLING, 10.0), (Kind.COMMERCIAL, 20.0), (Kind.INDUSTRIAL, 30.0), (Kind.OTHER, 10.0)],
)
def test_triggers_just_inside_and_just_outside(kind, trigger):
    # 40 CFR 82.157(c)(2) as public guides report it: 30, 20 and 10 %.
    for pounds, due in ((trigger, None), (trigger + 0.01, DAY + timedelta(days=30))):
        found = leak_rate([added(pounds, 0)], kg_from_lb(100.0), kind, Method.ROLLING, on=DAY)
        assert found.repair_by == due


def test_a_repair_after_the_last_addition_ends_what_is_due():
    additions = [added(30.0, 20)]
    before = leak_rate(additions, kg_from_lb(100.0), Kind.COMMERCIAL, Method.ANNUALIZED, on=DAY)
    after = leak_rate(
        additions,
        kg_from_lb(100.0),
        Kind.COMMERCIAL,
        Method.ANNUALIZED,
        on=DAY,
        repaired_on=DAY - timedelta(days=5),
    )
    assert before.repair_by is not None and after.repair_by is None


@pytest.mark.parametrize(
    ("pounds", "odp", "gwp", "on", "rule"),
    [
        (50.0, 0.055, 1810.0, DAY, ODS_LEAKS), (49.9, 0.055, 1810.0, DAY, None), (15.0, 0.0, 2088.0, DAY, HFC_LEAKS),
        (14.9, 0.0, 2088.0, DAY, None), (60.0, 0.0, 53.0, DAY, None), (60.0, 0.0, 53.1, DAY, HFC_LEAKS),
        (60.0, 0.0, 2088.0, date(2025, 12, 31), None), (60.0, 0.0, 2088.0, date(2026, 1, 1), HFC_LEAKS),
        (60.0, None, None, DAY, None),
    ],
)  # fmt: skip
def test_which_rule_an_appliance_is_under(pounds, odp, gwp, on, rule):
    assert applicable_rule(kg_from_lb(pounds), odp=odp, gwp=gwp, on=on) is rule


def test_125_percent_in_a_calendar_year_is_a_chronic_leak():
    additions = [
        Addition(date(2025, 12, 31), kg_from_lb(10.0)),
        Addition(date(2026, 1, 1), kg_from_lb(124.9)),
    ]
    charge = kg_from_lb(100.0)
    assert leak_rate(additions, charge, Kind.OTHER, Method.ROLLING, on=DAY).chronic_years == ()
    more = [*additions, added(0.2, 0)]
    assert leak_rate(more, charge, Kind.OTHER, Method.ROLLING, on=DAY).chronic_years == (2026,)


@given(st.lists(st.tuples(st.floats(0.1, 50.0), st.integers(0, 900)), max_size=8), st.sampled_from(Method))
def test_more_added_never_leaks_less(found, method):
    additions = [added(pounds, days) for pounds, days in found]
    charge = kg_from_lb(100.0)
    before = leak_rate(additions, charge, Kind.OTHER, method, on=DAY).rate
    more = [Addition(one.on, one.mass_kg * 1.5) for one in additions]
    assert leak_rate(more, charge, Kind.OTHER, method, on=DAY).rate >= before


def test_a_charge_is_above_zero():
    with pytest.raises(ValueError, match="full_charge_kg"):
        leak_rate([], 0.0, Kind.OTHER, Method.ROLLING, on=DAY)
