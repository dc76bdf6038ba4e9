"""What the worker needs: hookups with tags, live batches, devices seen."""

from copy import deepcopy
from datetime import UTC, datetime
from typing import Any

import pytest
from flask.testing import FlaskClient

from service.operations import live
from service.operations.support.context import Services
from tests.support.clock import Clock
from tests.support.http import assert_problem
from tests.support.live_batches import following, heard, together
from tests.support.watching import watched

AT = "2026-05-04T12:00:00Z"
NOON = datetime(2026, 5, 4, 12, tzinfo=UTC)


@pytest.fixture(autouse=True)
def always_looks(monkeypatch: pytest.MonkeyPatch) -> None:
    """Health is looked at for every question, not once a second."""
    monkeypatch.setattr("service.api.resources.health.KEPT_S", -1.0)


@pytest.fixture
def hookup(technician: FlaskClient) -> int:
    technician.post("/api/v1/cylinders", json={"serial": "HM-1", "place": "shop"})
    made = technician.post("/api/v1/hookups", json={"cylinder": "HM-1", "pressure_device": "probe-1"})
    assert made.status_code == 201
    return int(made.get_json()["id"])


def test_the_poll_is_304_until_something_changes(
    technician: FlaskClient, worker: FlaskClient, hookup: int
) -> None:
    first = worker.get("/api/v1/hookups?active=true")
    (item,) = first.get_json()["items"]
    assert (item["cylinder"], item["pressure_device"], item["temperature_device"]) == (
        "HM-1",
        "probe-1",
        "probe-1",
    )
    assert (item["from"], item["to"], item["valve"]) == (AT, None, "vapour")
    assert item["atmospheric_pressure_kpa"] == pytest.approx(101.325)
    assert item["atmospheric_pressure_source"] == "elevation"
    tag = {"If-None-Match": first.headers["ETag"]}
    assert worker.get("/api/v1/hookups?active=true", headers=tag).status_code == 304
    assert technician.delete(f"/api/v1/hookups/{hookup}").status_code == 204
    after = worker.get("/api/v1/hookups?active=true", headers=tag)
    assert (after.status_code, after.get_json()["items"]) == (200, [])


def test_a_poll_that_names_no_tag_is_judged_before_it_is_answered(worker: FlaskClient) -> None:
    any_tag = {"If-None-Match": "*"}
    assert worker.get("/api/v1/hookups?active=9199", headers=any_tag).status_code == 422
    assert worker.get("/api/v1/hookups?active=true", headers=any_tag).status_code == 304


def test_a_correction_of_the_elevation_reaches_the_worker(
    technician: FlaskClient, worker: FlaskClient, hookup: int
) -> None:
    tag = {"If-None-Match": worker.get("/api/v1/hookups?active=true").headers["ETag"]}
    technician.patch("/api/v1/places/shop", json={"elevation_m": 1609})
    (item,) = worker.get("/api/v1/hookups?active=true", headers=tag).get_json()["items"]
    assert item["atmospheric_pressure_kpa"] == pytest.approx(83.4, abs=0.1)


def test_a_live_batch_is_taken_and_shown(technician: FlaskClient, worker: FlaskClient, hookup: int) -> None:
    followed = following(technician.get(f"/api/v1/hookups/{hookup}").get_json(), NOON)
    unknown = {**followed["hookups"][0], "hookup": 999}
    batch = together(followed, {"hookups": [unknown], "devices": heard("probe-9", at=NOON)["devices"]})
    answer = worker.put("/api/v1/live", json=batch)
    assert (answer.status_code, answer.get_json()) == (200, {"hookups": 2, "devices": 2, "refused": []})
    (said, _) = batch["hookups"]
    shown = technician.get(f"/api/v1/hookups/{hookup}/live").get_json()
    assert (shown["settling_state"], shown["reasons"]) == ("settled", said["reasons"])
    assert shown["temperature_f"] == pytest.approx(said["temperature_c"] * 1.8 + 32.0)
    assert shown["absolute_pressure_kpa"] == pytest.approx(said["gauge_pressure_kpa"] + 101.325)
    (seen,) = technician.get("/api/v1/devices?attached=false").get_json()["items"]
    assert seen["device"] == "probe-9"
    assert seen["readings"]["gauge-pressure"]["value"] == 943_000
    assert seen["readings"]["wall-temperature"] == {"value": 297.15, "unit": "K", "at": AT}


def spoiled(batch: dict[str, Any], path: str, value: object) -> dict[str, Any]:
    """A batch with another value at a path such as ``hookups.0.mass_kg``."""
    *holders, name = [int(part) if part.isdigit() else part for part in path.split(".")]
    holder: Any = batch
    for part in holders:
        holder = holder[part]
    holder[name] = value
    return batch


@pytest.mark.parametrize(
    ("path", "value", "field", "expected"),
    [
        ("hookups.0.mass_kg", -0.02, "hookups.0.mass_kg", "at least 0"),
        ("hookups.0.temperature_c", 568.0, "hookups.0.temperature_c", "at most 200"),
        ("hookups.0.reasons.0", "No Liquid!", "hookups.0.reasons.0", "a reason such as no-liquid"),
        ("hookups.0.provisional_pair.absolute_pressure_kpa", -3.0, "hookups.0.provisional_pair", "above 0"),
        ("hookups.0.new_in_a_later_worker", 1, "hookups.0.new_in_a_later_worker", "no such field"),
        ("devices.0.place", "a/b", "devices.0.place", "a name without"),
        ("devices.0.readings.wall-temperature.unit", "Cel", "devices.0.readings.wall-temperature", "K"),
        ("devices.0.readings.gauge-pressure.value", "high", "devices.0.readings.gauge-pressure", "a number"),
        ("devices.0.readings.humidity", {"value": 1, "unit": "%", "at": AT}, "devices.0.readings", "one of"),
    ],
)
def test_a_faulty_value_costs_itself_alone(
    technician: FlaskClient,
    worker: FlaskClient,
    hookup: int,
    path: str,
    value: object,
    field: str,
    expected: str,
) -> None:
    good = following(technician.get(f"/api/v1/hookups/{hookup}").get_json(), NOON)
    answer = worker.put("/api/v1/live", json=spoiled(deepcopy(good), path, value)).get_json()
    assert (answer["hookups"], answer["devices"]) == (1, 1)
    (refused,) = answer["refused"]
    assert refused["field"].startswith(field)
    assert expected in refused["expected"]
    shown = technician.get(f"/api/v1/hookups/{hookup}/live").get_json()
    assert shown["settling_state"] == "settled"
    assert shown["gauge_pressure_kpa"] == good["hookups"][0]["gauge_pressure_kpa"]
    (seen,) = technician.get("/api/v1/devices").get_json()["items"]
    untouched = {"wall-temperature", "gauge-pressure"} - set(path.split("."))
    assert untouched <= seen["readings"].keys()


@pytest.mark.parametrize(
    ("path", "value"),
    [
        ("hookups.0.at", "yesterday"),
        ("hookups.0.settling_state", "boiling"),
        ("hookups.0.hookup", None),
        ("hookups.0", "nothing"),
        ("devices.0.device", "a b"),
        ("devices.0.last_seen", None),
        ("devices.0", []),
    ],
)
def test_an_item_without_what_it_needs_is_refused_and_the_others_are_taken(
    technician: FlaskClient, worker: FlaskClient, hookup: int, path: str, value: object
) -> None:
    technician.post("/api/v1/cylinders", json={"serial": "HM-2", "place": "shop"})
    other = technician.post("/api/v1/hookups", json={"cylinder": "HM-2", "pressure_device": "probe-2"})
    told = [technician.get(f"/api/v1/hookups/{hookup}").get_json(), other.get_json()]
    batch = spoiled(together(*(following(one, NOON) for one in told)), path, value)
    answer = worker.put("/api/v1/live", json=batch).get_json()
    which = path.split(".")[0]
    assert answer[which] == 1
    assert answer["refused"][0]["field"].startswith(f"{which}.0")
    assert technician.get(f"/api/v1/hookups/{other.get_json()['id']}/live").status_code == 200
    assert "probe-2" in [one["device"] for one in technician.get("/api/v1/devices").get_json()["items"]]


@pytest.mark.parametrize("place", ["shop", "a/b", 7, None])
def test_the_heartbeat_counts_whatever_the_values_are(
    technician: FlaskClient,
    worker: FlaskClient,
    hookup: int,
    clock: Clock,
    services: Services,
    place: object,
) -> None:
    watched(services)
    clock.forward(seconds=120)
    assert technician.get("/readyz").status_code == 503
    spoilt = {"hookups": ["nonsense"], "devices": None, "place": place, "beside": 1}
    assert len(worker.put("/api/v1/live", json=spoilt).get_json()["refused"]) >= 3
    assert technician.get("/readyz").status_code == 200


def test_the_heartbeat_counts_though_no_value_can_be_kept(
    technician: FlaskClient,
    worker: FlaskClient,
    hookup: int,
    clock: Clock,
    services: Services,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    watched(services)

    def broken(*_args: object) -> None:
        raise ZeroDivisionError

    batch = following(technician.get(f"/api/v1/hookups/{hookup}").get_json(), NOON)
    clock.forward(seconds=120)
    monkeypatch.setattr(live, "review", broken)
    answer = worker.put("/api/v1/live", json=batch).get_json()
    assert (answer["hookups"], answer["devices"]) == (0, 0)
    assert [one["value"] for one in answer["refused"]] == [hookup, "probe-1"]
    assert technician.get("/readyz").status_code == 200


@pytest.mark.parametrize("body", [[], "x", 7])
def test_a_body_that_is_no_object_is_refused(worker: FlaskClient, body: object) -> None:
    assert_problem(worker.put("/api/v1/live", json=body), 422, "validation")


def test_before_the_worker_spoke_there_is_nothing_to_show(technician: FlaskClient, hookup: int) -> None:
    assert_problem(technician.get(f"/api/v1/hookups/{hookup}/live"), 404, "not-found")


@pytest.mark.parametrize("device", ["a/b", "a+b", "a#b", "a b", ""])
def test_a_device_whose_name_breaks_a_topic_is_refused(technician: FlaskClient, device: str) -> None:
    technician.post("/api/v1/cylinders", json={"serial": "HM-1", "place": "shop"})
    body = {"cylinder": "HM-1", "pressure_device": device}
    assert_problem(technician.post("/api/v1/hookups", json=body), 422, "validation")


def test_a_hookup_needs_a_device(technician: FlaskClient) -> None:
    assert_problem(technician.post("/api/v1/hookups", json={"cylinder": "HM-1"}), 422, "validation")
