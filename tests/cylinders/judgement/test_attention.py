"""Causes: raised at one value, cleared at another, remembered until evidence ends them."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.cylinders.boiling import Moment, Recent
from service.cylinders.contents import Contents
from service.cylinders.judgement.belief import Belief, Content, Source
from service.cylinders.judgement.belief import Kind as Found
from service.cylinders.judgement.causes import ENDS, Course, Inflow, Kind, Live, Stood
from service.cylinders.judgement.judge import judge
from service.cylinders.recovery import HOW_TO_STOP, METHODS
from service.cylinders.requalification import Dates
from service.cylinders.requalification_stamp import Stamp
from service.units import k_from_c, pa_from_psi
from tests.cylinders.judgement.test_guard import EVACUATED, GOOD, HOLDS_R22
from tests.support.assessments import read

TODAY = date(2026, 11, 25)
THEN = datetime(2026, 11, 24, 12, tzinfo=UTC)
LATER = THEN + timedelta(hours=1)
R410A = replace(GOOD, contents=EVACUATED.put_in("R-410A", 6.0), label="R-410A", claims=("R-410A",))


def causes(knowledge, state=HOLDS_R22, *, stood=(), figures=None, live=None, course=None):
    noted = {kind: Stood("critical", THEN, "as it was", (figures or {})) for kind in stood}
    judged = judge(state, knowledge, on=TODAY, live=live, course=course, stood=noted)
    return {str(cause.kind): cause for cause in judged.attention}


def on(**values):
    return {"live": Live(attached=True, **values)}


def seen(**values):
    return {"course": Course(**values)}


def doubt(shares, **how):
    return {"state": replace(R410A, assessment=read(shares, **how))}


def not_empty(pressure_pa):
    return {"state": replace(GOOD, contents=Contents(), found_pressure_pa=pressure_pa)}


BOILS = Recent([Moment(15.0 * n, 295.0 - 2.0 * max(0, n - 50)) for n in range(61)])
"""A wall that falls by 8 K a minute after it stood still; no pressure was heard."""


def filling(gross_kg):
    """Without a measured rate 0.01 kg/s of vapor is assumed: 20 s of it and 0.02 kg in the hose, 0.22 kg in all."""
    return on(inflow=Inflow(gross_kg, 20.0, None, "vapour"))


DRY = {"vapour_only": True, "temp_slope_k_per_h": 0.1}
CASES = [
    # kind, raises, between (changes nothing), clears
    ("hot", on(temp_k=k_from_c(48.5)), on(temp_k=k_from_c(46.0)), on(temp_k=k_from_c(44.0))),
    (
        "pressure-toward-rating", on(gauge_pa=pa_from_psi(405)), on(gauge_pa=pa_from_psi(385)),
        on(gauge_pa=pa_from_psi(360)),
    ),
    ("stop-filling", filling(19.79), filling(19.5), filling(19.2)),
    (
        "liquid-full-soon",
        {"state": replace(GOOD, contents=EVACUATED.put_in("R-22", 25.0)), **on(temp_k=k_from_c(30.0))},
        {"state": replace(GOOD, contents=EVACUATED.put_in("R-22", 25.0)), **on()},
        {"state": replace(GOOD, contents=EVACUATED.put_in("R-22", 10.0)), **on(temp_k=k_from_c(30.0))},
    ),
    (
        "overfull",
        {"state": replace(GOOD, contents=EVACUATED.put_in("R-22", 25.0))},
        {"state": replace(GOOD, contents=replace(EVACUATED.put_in("R-22", 25.0), mass_kg=None))},
        {"state": HOLDS_R22},
    ),
    (
        "liquid-full", doubt({"R-410A": 0.97}, contents="liquid-full", liquid_full=0.95),
        {"state": R410A}, doubt({"R-410A": 0.97}),
    ),
    ("mixed", doubt({"R-410A": 0.6}, kind="mixed"), doubt({"R-410A": 0.45}, kind="mixed"), doubt({"R-410A": 0.97})),
    (
        "air", doubt({"R-410A": 0.6}, kind="air"), doubt({"R-410A": 0.45}, kind="air"),
        {**doubt({"R-410A": 0.97}), **seen(judged_at=LATER)},
    ),
    (
        "shifted", doubt({"R-410A": 0.6}, kind="shifted"), doubt({"R-410A": 0.45}, kind="shifted"),
        doubt({"R-410A": 0.97}),
    ),
    (
        "contents-not-permitted", doubt({"R-717": 0.6, "R-22": 0.4}), doubt({"R-717": 0.45, "R-22": 0.5}),
        doubt({"R-22": 0.97}),
    ),
    (
        "flammable-not-marked", doubt({"R-32": 0.5, "R-22": 0.4}), doubt({"R-32": 0.45, "R-22": 0.5}),
        doubt({"R-22": 0.97}),
    ),
    ("claim-contradicted", doubt({"R-22": 0.97}), None, doubt({"R-22": 0.97, "R-410A": 0.02})),
    ("advice-hold", doubt({"R-410A": 0.97}, disposition="hold"), None, doubt({"R-410A": 0.97})),
    ("not-empty", not_empty(900_000.0), None, not_empty(None)),
    ("implausible", seen(implausible=("6.6 lb more",)), seen(), seen(weighed_at=LATER)),
    (
        "overdue", {"state": replace(GOOD, dates=Dates(Stamp(2019, 1)))}, {"state": replace(GOOD, dates=Dates())},
        {"state": GOOD},
    ),
    ("stale", on(silent_s=901.0), on(silent_s=600.0), on(silent_s=10.0)),
    ("battery-low", on(battery_percent=15.0), on(battery_percent=20.0), on(battery_percent=25.0)),
    (
        "leak", seen(**DRY, pressure_slope_per_h=-0.02), seen(**DRY, pressure_slope_per_h=-0.005),
        seen(**DRY, pressure_slope_per_h=0.0, inspected_at=LATER),
    ),
    ("boiling-off", on(recent=BOILS), on(), {**on(), **seen(inspected_at=LATER)}),
    ("devices-disagree", on(devices_disagree=True), on(), on(devices_disagree=False)),
]  # fmt: skip


@pytest.mark.parametrize(("kind", "raises", "between", "clears"), CASES, ids=[case[0] for case in CASES])
def test_raised_at_one_value_and_cleared_at_another(kind, raises, between, clears, knowledge):
    raised = causes(knowledge, **raises)[kind]
    assert raised.text and raised.severity and raised.since is None and raised.ends
    assert causes(knowledge, stood=[kind], **raises)[kind].since == THEN
    if between is not None:
        assert kind not in causes(knowledge, **between)
        kept = causes(knowledge, stood=[kind], **between)[kind]
        assert (kept.text, kept.since) == ("as it was", THEN)
    assert kind not in causes(knowledge, stood=[kind], **clears)


SHARED = {"R-22": 0.5}
EDGES = [
    # kind, just not, raises, stands, ends
    ("hot", on(temp_k=k_from_c(48.0) - 0.01), on(temp_k=k_from_c(48.0)), on(temp_k=k_from_c(45.0)),
     on(temp_k=k_from_c(45.0) - 0.01)),
    ("pressure-toward-rating", on(gauge_pa=pa_from_psi(399.9)), on(gauge_pa=pa_from_psi(400.1)),
     on(gauge_pa=pa_from_psi(372.1)), on(gauge_pa=pa_from_psi(371.9))),
    ("stop-filling", filling(19.775), filling(19.785), filling(19.285), filling(19.275)),
    ("stale", on(silent_s=900.0), on(silent_s=900.1), on(silent_s=300.0), on(silent_s=299.9)),
    ("battery-low", on(battery_percent=15.1), on(battery_percent=15.0), on(battery_percent=24.9),
     on(battery_percent=25.0)),
    ("leak", seen(unexplained_loss_kg=0.199), seen(unexplained_loss_kg=0.2),
     seen(unexplained_loss_kg=0.1, weighed_at=LATER), seen(unexplained_loss_kg=0.099, weighed_at=LATER)),
    ("leak", seen(**DRY, pressure_slope_per_h=-0.0099), seen(**DRY, pressure_slope_per_h=-0.01),
     seen(**DRY, pressure_slope_per_h=-0.0021, inspected_at=LATER),
     seen(**DRY, pressure_slope_per_h=-0.002, inspected_at=LATER)),
    ("leak", seen(vapour_only=True, pressure_slope_per_h=-0.02, temp_slope_k_per_h=0.51),
     seen(vapour_only=True, pressure_slope_per_h=-0.02, temp_slope_k_per_h=-0.5),
     seen(vapour_only=True, pressure_slope_per_h=0.0, temp_slope_k_per_h=0.51, inspected_at=LATER),
     seen(vapour_only=True, pressure_slope_per_h=0.0, temp_slope_k_per_h=0.5, inspected_at=LATER)),
    *(
        (kind, doubt({"R-410A": 0.499}, kind=found), doubt({"R-410A": 0.5}, kind=found),
         {**doubt({"R-410A": 0.4}, kind=found), **seen(judged_at=LATER)},
         {**doubt({"R-410A": 0.399}, kind=found), **seen(judged_at=LATER)})
        for kind, found in (("mixed", "mixed"), ("air", "air"), ("shifted", "shifted"))
    ),
    ("contents-not-permitted", doubt({"R-717": 0.499, **SHARED}), doubt({"R-717": 0.5, "R-22": 0.4}),
     doubt({"R-717": 0.4, **SHARED}), doubt({"R-717": 0.399, **SHARED})),
    ("flammable-not-marked", doubt({"R-32": 0.499, **SHARED}), doubt({"R-32": 0.5, "R-22": 0.4}),
     doubt({"R-32": 0.4, **SHARED}), doubt({"R-32": 0.399, **SHARED})),
]  # fmt: skip


@pytest.mark.parametrize(("kind", "misses", "raises", "stands", "ends"), EDGES, ids=lambda one: "")
def test_each_limit_lies_where_it_is_said_to_lie(kind, misses, raises, stands, ends, knowledge):
    assert kind not in causes(knowledge, **misses)
    assert kind in causes(knowledge, **raises)
    assert kind in causes(knowledge, stood=[kind], **stands)
    assert kind not in causes(knowledge, stood=[kind], **ends)


def test_warming_that_would_fill_it_with_liquid_is_told_ten_kelvin_before_and_cleared_at_thirteen(knowledge):
    state = replace(GOOD, contents=EVACUATED.put_in("R-22", 25.0))
    full_k = judge(state, knowledge, on=TODAY).filling.liquid_full_temp_k

    def found(left_k, stood=()):
        return causes(knowledge, state, stood=stood, **on(temp_k=full_k - left_k)).get("liquid-full-soon")

    assert found(10.01) is None and found(9.99).severity == "warning"
    assert found(5.01).severity == "warning" and found(4.99).severity == "critical"
    assert found(12.99, ["liquid-full-soon"]) and not found(13.01, ["liquid-full-soon"])


def test_overfull_begins_three_thousandths_over_the_limit_and_ends_at_it(knowledge):
    limit = judge(HOLDS_R22, knowledge, on=TODAY).filling.limit_kg

    def stands(net_kg, stood=()):
        state = replace(HOLDS_R22, contents=EVACUATED.put_in("R-22", net_kg))
        return "overfull" in causes(knowledge, state, stood=stood)

    assert not stands(1.0029 * limit) and stands(1.0031 * limit)
    assert stands(1.0001 * limit, ["overfull"]) and not stands(0.9999 * limit, ["overfull"])


def test_where_no_law_gives_a_limit_overfull_ends_once_no_warmth_fills_it(knowledge):
    marks = replace(HOLDS_R22.marks, law="ca")
    little = replace(HOLDS_R22, marks=marks, contents=EVACUATED.put_in("R-22", 2.0))
    judged = judge(little, knowledge, on=TODAY).filling
    assert judged.liquid_full_temp_k is None and judged.liquid_fraction is not None
    assert "overfull" not in causes(knowledge, little, stood=["overfull"])


@pytest.mark.parametrize("method", METHODS)
def test_the_stop_names_what_the_hands_do_first(method, knowledge):
    """A recovery machine never runs against a closed valve; a push-pull siphons on without it."""
    (told,) = causes(knowledge, **on(inflow=Inflow(20.0, 20.0, None, method))).values()
    machine, valve = (told.text.lower().index(word) for word in ("machine off", "close"))
    assert told.text.endswith(HOW_TO_STOP[method])
    assert (valve < machine) is (method == "push-pull")


@pytest.mark.parametrize(("psi", "severity"), [(499.9, "warning"), (500.1, "critical")])
def test_five_fourths_of_the_service_pressure_are_critical(psi, severity, knowledge):
    found = causes(knowledge, **on(gauge_pa=pa_from_psi(psi)))
    assert found["pressure-toward-rating"].severity == severity


@pytest.mark.parametrize(("celsius", "severity"), [(51.99, "warning"), (52.0, "critical")])
def test_the_upper_storage_temperature_is_critical(celsius, severity, knowledge):
    assert causes(knowledge, **on(temp_k=k_from_c(celsius)))["hot"].severity == severity


def test_every_kind_has_a_case_and_says_what_ends_it():
    assert {case[0] for case in CASES} == {str(kind) for kind in Kind} == {str(kind) for kind in ENDS}


def test_a_transfer_out_that_is_recorded_later_explains_why_it_boiled(knowledge):
    assert "boiling-off" not in causes(knowledge, stood=["boiling-off"], **seen(drawn_at=LATER))
    before = seen(drawn_at=THEN - timedelta(hours=1))
    assert "boiling-off" in causes(knowledge, stood=["boiling-off"], **before)


def test_nothing_boils_off_in_an_empty_cylinder(knowledge):
    empty = replace(GOOD, contents=EVACUATED)
    assert "boiling-off" not in causes(knowledge, empty, **on(recent=BOILS))


def test_a_quiet_cylinder_needs_nobody(knowledge):
    assert causes(knowledge) == {}


def test_what_gets_worse_becomes_critical_and_stays_so_until_it_ends(knowledge):
    assert causes(knowledge, **on(temp_k=k_from_c(49.0)))["hot"].severity == "warning"
    assert causes(knowledge, **on(temp_k=k_from_c(52.5)))["hot"].severity == "critical"
    assert causes(knowledge, stood=["hot"], **on(temp_k=k_from_c(49.0)))["hot"].severity == "critical"


def test_another_word_on_the_label_does_not_end_an_overfull_cylinder(knowledge):
    heavier = replace(GOOD, contents=Contents(mass_kg=19.6), label="R-410A", claims=("R-410A",))
    raised = causes(knowledge, heavier)["overfull"]
    figures = dict(raised.figures)
    relabelled = replace(heavier, label="R-134a", claims=("R-134a",))  # its own limit is 20.9 kg
    assert "overfull" not in causes(knowledge, relabelled)
    assert "overfull" in causes(knowledge, relabelled, stood=["overfull"], figures=figures)
    judged = seen(judged_at=LATER)
    assert "overfull" not in causes(knowledge, relabelled, stood=["overfull"], figures=figures, **judged)
    lighter = replace(relabelled, contents=Contents(mass_kg=18.0))
    assert "overfull" not in causes(knowledge, lighter, stood=["overfull"], figures=figures)


def test_a_mass_that_nothing_explains_is_explained_by_evidence_alone(knowledge):
    stands = ["implausible"]
    assert "implausible" in causes(knowledge, stood=stands, **seen(acted_at=LATER)), "by another transfer"
    before = THEN - timedelta(hours=1)
    assert "implausible" in causes(knowledge, stood=stands, **seen(weighed_at=before, judged_at=before))
    assert "implausible" not in causes(knowledge, stood=stands, **seen(judged_at=LATER))
    assert "implausible" not in causes(knowledge, GOOD, stood=stands, **seen()), "it was emptied"
    still = seen(implausible=("6.6 lb more",), weighed_at=LATER, judged_at=LATER)
    assert "implausible" in causes(knowledge, stood=stands, **still)


def test_air_stays_in_a_cylinder_whatever_is_poured_on_top(knowledge):
    assessment = read({"R-22": 0.97}, kind="mixed", disposition="recover-and-recycle", carried=True)
    mixed = replace(R410A, carried=assessment.belief, assessment=assessment)
    found = causes(knowledge, mixed, stood=["air"])
    assert {"air", "mixed"} <= set(found)
    analyzed = Belief((Content("R-410A", {Found.CLEAN: 0.98}, {}, Source.ANALYSIS),))
    assert "air" not in causes(knowledge, replace(R410A, carried=analyzed), stood=["air"])
    assert "air" not in causes(knowledge, GOOD, stood=["air"]), "it was emptied"


def test_mass_gone_without_a_transfer_is_a_leak_until_it_is_explained(knowledge):
    assert causes(knowledge, **seen(unexplained_loss_kg=0.3))["leak"].severity == "critical"
    still = seen(unexplained_loss_kg=0.0, acted_at=LATER, weighed_at=LATER)
    assert "leak" in causes(knowledge, stood=["leak"], **still), "a later transfer explains nothing"
    found = seen(unexplained_loss_kg=0.05, acted_at=THEN - timedelta(days=1), weighed_at=LATER)
    assert "leak" not in causes(knowledge, stood=["leak"], **found)
    assert "leak" not in causes(knowledge, GOOD, stood=["leak"], **seen())


def test_pressure_that_falls_because_it_cools_is_no_leak(knowledge):
    cooling = {"vapour_only": True, "pressure_slope_per_h": -0.05, "temp_slope_k_per_h": -4.0}
    assert "leak" not in causes(knowledge, **seen(**cooling))
    with_liquid = {"vapour_only": False, "pressure_slope_per_h": -0.05, "temp_slope_k_per_h": 0.0}
    assert "leak" not in causes(knowledge, **seen(**with_liquid))


def test_a_liquid_full_cylinder_is_one_until_a_reading_or_the_scale_says_otherwise(knowledge):
    filled_on = replace(R410A, assessment=read({"R-410A": 0.97}, disposition="hold", carried=True))
    assert "liquid-full" in causes(knowledge, filled_on, stood=["liquid-full"])
    assert "liquid-full" not in causes(knowledge, filled_on, stood=["liquid-full"], **seen(weighed_at=LATER))


def test_a_weighing_that_finds_it_overfull_does_not_end_liquid_full(knowledge):
    carried = read({"R-410A": 0.97}, carried=True)
    for mass_kg, stands in ((10.0, False), (25.0, True)):
        state = replace(R410A, contents=EVACUATED.put_in("R-410A", mass_kg), assessment=carried)
        found = causes(knowledge, state, stood=["liquid-full"], **seen(weighed_at=LATER))
        assert ("liquid-full" in found) is stands
    unknown = replace(R410A, water_capacity_kg=None, assessment=carried)
    assert "liquid-full" in causes(knowledge, unknown, stood=["liquid-full"], **seen(weighed_at=LATER))


def test_that_warmth_would_fill_it_ends_unhooked_and_stays_while_its_size_is_unknown(knowledge):
    full, stood = replace(GOOD, contents=EVACUATED.put_in("R-22", 25.0)), ["liquid-full-soon"]
    assert "liquid-full-soon" not in causes(knowledge, full, stood=stood, live=Live(attached=False))
    unknown = replace(full, water_capacity_kg=None)
    assert "liquid-full-soon" in causes(knowledge, unknown, stood=stood, **on(temp_k=k_from_c(20.0)))


def test_a_hold_that_was_released_is_no_cause(knowledge):
    held = doubt({"R-410A": 0.97}, disposition="hold")["state"]
    assert "advice-hold" in causes(knowledge, held)
    assert "advice-hold" not in causes(knowledge, replace(held, released=frozenset({"hold"})))


def test_what_left_the_shop_needs_nobody_here(knowledge):
    gone = replace(HOLDS_R22, standing="handed-over")
    assert causes(knowledge, gone, stood=["leak", "hot"], **on(temp_k=k_from_c(60.0))) == {}


def test_the_most_serious_comes_first(knowledge):
    state = replace(R410A, assessment=read({"R-22": 0.97}), dates=Dates(Stamp(2019, 1)))
    found = list(causes(knowledge, state, **on(temp_k=k_from_c(60.0))).values())
    assert [cause.severity for cause in found] == ["critical", "warning", "notice"]


@given(st.lists(st.floats(k_from_c(45.1), k_from_c(47.9)), min_size=2, max_size=10), st.booleans())
def test_noise_between_the_two_values_never_chatters(knowledge, temps, stands):
    stood = ["hot"] if stands else []
    for temp in temps:
        assert ("hot" in causes(knowledge, stood=stood, **on(temp_k=temp))) is stands
