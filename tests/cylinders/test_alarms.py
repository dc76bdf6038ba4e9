from dataclasses import fields

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.cylinders.alarm_signals import Kind, Observation
from service.cylinders.alarms import changes
from service.units import k_from_c, pa_from_psi

SERVICE = pa_from_psi(400.0)

CASES = [
    # kind, raises, between (changes nothing), clears
    ("hot", {"temp_k": k_from_c(48.5)}, {"temp_k": k_from_c(46.0)}, {"temp_k": k_from_c(44.0)}),
    (
        "pressure-toward-rating",
        {"gauge_pa": pa_from_psi(405), "service_pressure_pa": SERVICE},
        {"gauge_pa": pa_from_psi(385), "service_pressure_pa": SERVICE},
        {"gauge_pa": pa_from_psi(360), "service_pressure_pa": SERVICE},
    ),
    (
        "liquid-full-soon",
        {"temp_k": 300.0, "liquid_full_temp_k": 309.0},
        {"temp_k": 300.0, "liquid_full_temp_k": 312.0},
        {"temp_k": 300.0, "liquid_full_temp_k": 314.0},
    ),
    (
        "overfull",
        {"net_mass_kg": 10.1, "limit_kg": 10.0},
        {"net_mass_kg": 10.02, "limit_kg": 10.0},
        {"net_mass_kg": 10.0, "limit_kg": 10.0},
    ),
    ("liquid-full", {"liquid_full": True}, {}, {"liquid_full": False}),
    ("mixed", {"contamination": "mixed"}, {"contamination": "undecided"}, {"contamination": "none-detected"}),
    (
        "overdue",
        {"requalification": "overdue"},
        {"requalification": "unknown"},
        {"requalification": "current"},
    ),
    ("stale", {"silent_s": 901.0}, {"silent_s": 600.0}, {"silent_s": 10.0}),
    ("battery-low", {"battery_percent": 15.0}, {"battery_percent": 20.0}, {"battery_percent": 25.0}),
    (
        "leak",
        {"vapour_only": True, "pressure_slope_per_h": -0.02, "temp_slope_k_per_h": 0.1},
        {"vapour_only": True, "pressure_slope_per_h": -0.005, "temp_slope_k_per_h": 0.1},
        {"vapour_only": True, "pressure_slope_per_h": 0.0, "temp_slope_k_per_h": 0.1},
    ),
    ("devices-disagree", {"devices_disagree": True}, {}, {"devices_disagree": False}),
]


@pytest.mark.parametrize(("kind", "raises", "between", "clears"), CASES, ids=[case[0] for case in CASES])
def test_raised_at_one_value_and_cleared_at_another(kind, raises, between, clears):
    raised = changes({}, Observation(**raises))
    assert [(change.kind, change.raised) for change in raised] == [(Kind(kind), True)]
    assert raised[0].text and raised[0].severity
    assert changes({kind: "critical"}, Observation(**raises)) == []
    assert changes({}, Observation(**between)) == changes({kind: "critical"}, Observation(**between)) == []
    assert [
        (change.kind, change.raised) for change in changes({kind: "critical"}, Observation(**clears))
    ] == [(Kind(kind), False)]
    assert changes({}, Observation(**clears)) == []


def test_what_is_not_known_changes_nothing():
    assert changes({}, Observation()) == []
    assert changes(dict.fromkeys(Kind, "notice"), Observation()) == []


def test_liquid_full_is_critical_at_once():
    raised = changes({}, Observation(liquid_full=True, temp_k=290.0))
    assert raised[0].kind is Kind.LIQUID_FULL and raised[0].severity == "critical"


def test_an_alarm_that_gets_worse_is_raised_again_as_critical_once():
    hotter = changes({"hot": "warning"}, Observation(temp_k=k_from_c(52.5)))
    assert [(change.kind, change.raised, change.severity) for change in hotter] == [
        (Kind.HOT, True, "critical")
    ]
    assert changes({"hot": "critical"}, Observation(temp_k=k_from_c(53.0))) == []
    assert changes({"hot": "critical"}, Observation(temp_k=k_from_c(49.0))) == []


def test_mass_gone_without_a_transfer_is_a_leak_until_it_is_explained():
    assert changes({}, Observation(unexplained_loss_kg=0.3))[0].kind is Kind.LEAK
    assert changes({"leak": "critical"}, Observation(unexplained_loss_kg=0.15)) == []
    assert not changes({"leak": "critical"}, Observation(unexplained_loss_kg=0.0))[0].raised


def test_pressure_that_falls_because_it_cools_is_no_leak():
    assert (
        changes({}, Observation(vapour_only=True, pressure_slope_per_h=-0.05, temp_slope_k_per_h=-4.0)) == []
    )
    assert (
        changes({}, Observation(vapour_only=False, pressure_slope_per_h=-0.05, temp_slope_k_per_h=0.0)) == []
    )


@given(st.lists(st.floats(k_from_c(45.1), k_from_c(47.9)), min_size=2, max_size=30), st.booleans())
def test_noise_between_the_two_values_never_chatters(temps, active):
    running = {"hot": "warning"} if active else {}
    assert all(changes(running, Observation(temp_k=temp)) == [] for temp in temps)


def test_every_kind_has_a_case():
    assert {case[0] for case in CASES} == {str(kind) for kind in Kind}
    used = {name for case in CASES for part in case[1:] for name in part}
    assert used | {"unexplained_loss_kg"} == {field.name for field in fields(Observation)}
