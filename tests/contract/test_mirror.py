"""A mirror of the fleet that reads nothing but events is exactly what the service answers, after a whole story."""

from collections.abc import Callable
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient

from service.operations import cylinders, places
from service.operations.support.context import Actor, Services
from tests.support.judge import ScriptedJudge
from tests.support.story import play

Clients = Callable[..., FlaskClient]
CALENDAR = {"requalification"}
"""What follows from stamps, law and today's date: no write changes it, so that no event tells it."""


class Mirror:
    """What a fleet system keeps that hears events and never asks."""

    def __init__(self) -> None:
        self.cylinders: dict[str, dict[str, Any]] = {}
        self.verdicts: dict[str, dict[str, Any]] = {}
        self.alarms: dict[int, dict[str, Any]] = {}
        self.hookups: set[int] = set()
        self.transfers: set[int] = set()
        self.places: set[str] = set()

    def hear(self, event: dict[str, Any]) -> None:
        kind, data, name = event["type"], event["data"], event["subject"].partition("/")[2]
        match kind.removeprefix("heelmark."):
            case "cylinder.state":
                # A write that began earlier may be told later: the highest version counts.
                self.cylinders[name] = max(
                    self.cylinders.get(name, data), data, key=lambda one: one["version"]
                )
            case "verdict.reached":
                self.verdicts[name] = data
            case "alarm.raised" | "alarm.cleared" as what:
                self.alarms.pop(data["alarm"], None)
                self.alarms |= {data["alarm"]: data} if what == "alarm.raised" else {}
            case "hookup.changed":
                self.hookups ^= {data["hookup"]}
            case "transfer.recorded":
                self.transfers.add(data["transfer"])
            case "place.changed":
                self.places.add(name)


def every(client: FlaskClient, path: str) -> list[dict[str, Any]]:
    """Every item of a list, page by page."""
    items: list[dict[str, Any]] = []
    after = None
    while True:
        sign = "&" if "?" in path else "?"
        page = client.get(f"/api/v1/{path}{sign}limit=50" + (f"&after={after}" if after else "")).get_json()
        items, after = items + page["items"], page["next"]
        if after is None:
            return items


@pytest.fixture
def told(
    app: Flask, services: Services, actor: Actor, client_as: Clients, judge: ScriptedJudge
) -> tuple[Mirror, FlaskClient]:
    """A mirror after the story, and a client that may read everything."""
    administrator = client_as("administrator")
    places.create(services, actor, name="van-7", kind="van", elevation_m=12.0)
    marks = "DOT-4BA400 WC 47.7 TW 27.6"
    cylinders.register(services, actor, "HM-0002", {"place": "shop", "marks": marks, "notes": "a"})
    cylinders.correct(services, actor, "hm-0002", {"place": "van-7", "notes": None}, lambda _: True)
    judge.contamination = "mixed"
    body = {"cylinder": "HM-0002", "temperature_c": 24.8, "absolute_pressure_kpa": 1044.0, "mass_kg": 18.2}
    assert administrator.post("/api/v1/equilibrium-pairs", json=body).status_code == 201
    judge.contamination = "none-detected"
    play(app, [administrator, client_as("worker")])
    mirror = Mirror()
    for event in every(client_as("events"), "event-log"):
        mirror.hear(event)
    return mirror, administrator


def test_cylinders_are_exact(told: tuple[Mirror, FlaskClient]) -> None:
    mirror, client = told
    there = {one["serial"]: one for one in every(client, "cylinders")}
    assert len(there) >= 5
    assert mirror.cylinders.keys() == there.keys()
    for serial, state in mirror.cylinders.items():
        shown = there[serial]
        pounds = {name for name in shown if name.endswith("_lb")}
        assert shown.keys() - pounds - CALENDAR == state.keys()
        assert {name: shown[name] for name in state} == state


def test_verdicts_are_exact(told: tuple[Mirror, FlaskClient]) -> None:
    mirror, client = told
    assert len(mirror.verdicts) >= 2
    for serial, data in mirror.verdicts.items():
        newest = client.get(f"/api/v1/cylinders/{serial}/verdicts?limit=1").get_json()["items"]
        assert newest[0]["id"] == data["verdict"]
        assert newest[0]["identity"]["finding"] == data["identity"]
        likeliest = newest[0]["identity"]["candidates"][0]
        assert (likeliest["designation"], newest[0]["contamination"]["finding"]) == (
            data["designation"],
            data["contamination"],
        )


def test_alarms_hookups_transfers_and_places_are_exact(told: tuple[Mirror, FlaskClient]) -> None:
    mirror, client = told
    standing = every(client, "alarms")
    assert standing
    assert {n: (a["code"], a["severity"]) for n, a in mirror.alarms.items()} == {
        one["id"]: (one["code"], one["severity"]) for one in standing
    }
    assert mirror.hookups == {one["id"] for one in every(client, "hookups?active=true")}
    assert mirror.transfers == {one["id"] for one in every(client, "transfers")}
    assert mirror.places == {one["name"] for one in every(client, "places")}
