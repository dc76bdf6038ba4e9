"""The worker's own client against the real service over HTTP: both sides of what binds them."""

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from flask import Flask
from flask.testing import FlaskClient

from ingest.sessions.live import UNITS
from ingest.wire.http import Service
from ingest.wire.retry import SET_ASIDE_AFTER, Parcel
from service.api.http import examples
from service.operations import tokens
from service.operations.support.context import Actor, Services
from service.units import READING_UNITS
from tests.support.clock import Clock
from tests.support.fake_service import hookup
from tests.support.live_batches import following, together, unread
from tests.support.served import served


@pytest.fixture
def side(app: Flask, services: Services, actor: Actor) -> Iterator[Service]:
    """The worker's side of a served application."""
    secret = tokens.create(services, actor, name="worker", scope="worker").secret
    with served(app) as url:
        yield Service(url, secret)


def hook_up(technician: FlaskClient, number: int = 1) -> None:
    technician.post("/api/v1/cylinders", json={"serial": f"HM-{number}", "place": "shop"})
    body = {"cylinder": f"HM-{number}", "pressure_device": f"g-{number}", "temperature_device": f"c-{number}"}
    assert technician.post("/api/v1/hookups", json=body).status_code == 201


def test_the_poll_reads_what_is_attached_and_nothing_twice(technician: FlaskClient, side: Service) -> None:
    hook_up(technician)
    first = side.hookups(None)
    assert first is not None
    (hookup,) = first.parsed()
    assert (hookup.cylinder, hookup.pressure_device, hookup.temperature_device) == ("HM-1", "g-1", "c-1")
    assert side.hookups(first.etag) is None
    hook_up(technician, 2)
    second = side.hookups(first.etag)
    assert second is not None
    assert len(second.parsed()) == 2


def test_a_change_on_a_later_page_is_seen(technician: FlaskClient, side: Service) -> None:
    for number in range(201):
        hook_up(technician, number)
    first = side.hookups(None)
    assert first is not None
    assert len(first.items) == 201
    technician.delete("/api/v1/hookups/201")
    second = side.hookups(first.etag)
    assert second is not None
    assert len(second.items) == 200


def test_a_pair_is_taken_once(technician: FlaskClient, side: Service) -> None:
    hook_up(technician)
    body = {
        "hookup": 1,
        "temperature_c": 24.8,
        "gauge_pressure_kpa": 937.7,
        "temperature_uncertainty_k": 0.08,
        "pressure_uncertainty_kpa": 0.7,
        "settled_at": "2026-05-04T12:00:00Z",
        "from": "2026-05-04T11:40:00Z",
        "to": "2026-05-04T12:00:00Z",
        "provisional": False,
        "reasons": ["liquid-untested"],
    }
    parcel = Parcel("hookup-1-2026-05-04T12:00:00Z", json.dumps(body), 0)
    assert [side.post_pair(parcel, 0.5).what for _ in range(2)] == ["stored"] * 2
    (pair,) = technician.get("/api/v1/cylinders/HM-1/pairs").get_json()["items"]
    assert pair["absolute_pressure_kpa"] == pytest.approx(937.7 + 101.325)
    assert technician.get("/api/v1/cylinders/HM-1/verdict").status_code == 200


def test_a_pair_that_will_never_be_taken_is_set_aside(side: Service) -> None:
    body = json.dumps({"hookup": 999, "temperature_c": 20, "absolute_pressure_kpa": 900})
    assert side.post_pair(Parcel("k", body, 0), 0.5).what == "again"
    assert side.post_pair(Parcel("k", body, SET_ASIDE_AFTER, SET_ASIDE_AFTER), 0.5).what == "set-aside"


def test_live_values_are_taken(technician: FlaskClient, side: Service, clock: Clock) -> None:
    hook_up(technician)
    technician.post("/api/v1/cylinders", json={"serial": "HM-2", "place": "shop"})
    technician.post("/api/v1/hookups", json={"cylinder": "HM-2", "pressure_device": "probe-2"})
    (hookup,) = [item for item in side.hookups(None).items if item["pressure_device"] == "probe-2"]
    assert side.put_live(following(hookup, clock())) == []
    assert technician.get(f"/api/v1/hookups/{hookup['id']}/live").get_json()["settling_state"] == "settled"


@pytest.mark.parametrize("seconds", [0.0, 30.0, 100.0, 200.0, 400.0, 1200.0])
def test_the_service_takes_every_field_that_the_worker_says_at_any_stage(
    technician: FlaskClient, side: Service, clock: Clock, seconds: float
) -> None:
    technician.post("/api/v1/cylinders", json={"serial": "HM-1", "place": "shop"})
    technician.post("/api/v1/hookups", json={"cylinder": "HM-1", "pressure_device": "probe-1"})
    (hookup,) = side.hookups(None).items
    values = {name: (unit, 50.0 if unit == "%EL" else 290.0) for name, unit in UNITS.items()}
    said = following(hookup, clock(), seconds=seconds, values={**values, "ambient-pressure": ("Pa", 1e5)})
    assert side.put_live(said) == []
    if said["hookups"]:
        shown = technician.get(f"/api/v1/hookups/{hookup['id']}/live").get_json()
        assert shown["time_left"] == said["hookups"][0]["time_left"]
        assert (shown["time_left"] is not None) == (seconds == 200.0)
    told = technician.get("/api/v1/devices").get_json()["items"][0]["readings"]
    assert {name: (one["value"], one["unit"]) for name, one in told.items()} == {
        name: (one["value"], one["unit"]) for name, one in said["devices"][0]["readings"].items()
    }


def test_a_tared_scale_below_zero_costs_its_own_value_alone(
    technician: FlaskClient, side: Service, clock: Clock
) -> None:
    for number in (1, 2):
        technician.post("/api/v1/cylinders", json={"serial": f"HM-{number}", "place": "shop"})
        body = {"cylinder": f"HM-{number}", "pressure_device": f"probe-{number}"}
        technician.post("/api/v1/hookups", json=body)
    one, other = side.hookups(None).items
    said = together(following(one, clock(), values={"mass": ("kg", -0.02)}), following(other, clock()))
    refused = {"field": "hookups.0.mass_kg", "value": -0.02, "expected": "at least 0 and at most 5000"}
    assert side.put_live(said) == [refused]
    for followed in (one, other):
        shown = technician.get(f"/api/v1/hookups/{followed['id']}/live").get_json()
        assert (shown["settling_state"], shown["mass_kg"]) == ("settled", None)


def test_what_the_worker_cannot_read_is_shown_with_its_reason(
    technician: FlaskClient, side: Service, clock: Clock, tmp_path: Path
) -> None:
    psi, other = b'[{"n":"gauge-pressure","u":"psi","v":118}]', b'[{"n":"pressure","u":"Pa","v":8e5}]'
    said = unread(tmp_path, "probe-9", clock(), psi, psi, other)
    assert side.put_live(said) == [] and side.put_live(said) == []
    told = {one["reason"]: one for one in technician.get("/api/v1/not-understood").get_json()["items"]}
    assert set(told) == {"unit", "unknown-name"}
    assert (told["unit"]["source"], told["unit"]["count"], told["unit"]["partly"]) == ("probe-9", 4, False)
    assert "'psi', expected Pa or hPa" in told["unit"]["detail"]
    assert told["unit"]["example"] == psi.decode()


def test_both_sides_name_the_same_quantities_in_the_same_units() -> None:
    assert UNITS == READING_UNITS


def test_the_documents_example_is_what_the_worker_says(clock: Clock) -> None:
    said = following(hookup(1, "gauge-17"), clock())
    assert examples.LIVE["hookups"][0].keys() <= said["hookups"][0].keys()
    for mine, theirs in zip(examples.LIVE["devices"], said["devices"], strict=True):
        assert mine.keys() == theirs.keys()
        for name, reading in mine["readings"].items():
            assert reading.keys() == theirs["readings"][name].keys()
            assert reading["unit"] == theirs["readings"][name]["unit"]
