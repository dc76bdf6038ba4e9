"""The worker's own client against the real service over HTTP: both sides of what binds them."""

import json
from collections.abc import Iterator

import pytest
from flask import Flask
from flask.testing import FlaskClient

from ingest.poster import Service
from ingest.retry import SET_ASIDE_AFTER
from ingest.store import Parcel
from service.operations import tokens
from service.operations.context import Actor, Services
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


def test_live_values_are_taken(technician: FlaskClient, side: Service) -> None:
    hook_up(technician)
    state = {"hookup": 1, "settling_state": "settled", "reasons": [], "at": "2026-05-04T12:00:00Z"}
    assert side.put_live({"place": "shop", "hookups": [state], "devices": []})
    assert technician.get("/api/v1/hookups/1/live").get_json()["settling_state"] == "settled"
