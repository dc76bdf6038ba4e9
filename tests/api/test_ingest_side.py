"""What the worker needs: hookups with tags, live batches, devices seen."""

import pytest
from flask.testing import FlaskClient

from tests.support.http import assert_problem

AT = "2026-05-04T12:00:00Z"


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
    state = {
        "hookup": hookup,
        "settling_state": "settling",
        "reasons": ["liquid-untested"],
        "at": AT,
        "temperature_c": 24.0,
        "gauge_pressure_kpa": 900.0,
        "absolute_pressure_kpa": None,
        "mass_kg": None,
        "ambient_temperature_c": None,
        "battery_percent": 80,
        "drift_k_per_h": 1.5,
        "good_to_k": 0.4,
        "provisional_pair": {
            "temperature_c": 24,
            "absolute_pressure_kpa": 1001,
            "temperature_uncertainty_k": 0.8,
        },
        "probe_lag_s": None,
    }
    readings = {"gauge-pressure": {"value": 900000, "unit": "Pa", "at": AT}}
    device = {
        "device": "urn:dev:ops:32473-gauge-7",
        "place": "shop",
        "last_seen": AT,
        "readings": readings,
    }
    batch = {"place": "shop", "hookups": [state, {**state, "hookup": 999}], "devices": [device]}
    assert worker.put("/api/v1/live", json=batch).status_code == 204
    shown = technician.get(f"/api/v1/hookups/{hookup}/live").get_json()
    assert (shown["settling_state"], shown["temperature_f"]) == ("settling", pytest.approx(75.2))
    assert shown["absolute_pressure_kpa"] == pytest.approx(1001.325)
    (seen,) = technician.get("/api/v1/devices?attached=false").get_json()["items"]
    assert seen["device"] == "urn:dev:ops:32473-gauge-7"
    assert seen["readings"]["gauge-pressure"]["value"] == 900000


def test_before_the_worker_spoke_there_is_nothing_to_show(technician: FlaskClient, hookup: int) -> None:
    assert_problem(technician.get(f"/api/v1/hookups/{hookup}/live"), 404, "not-found")


@pytest.mark.parametrize("device", ["a/b", "a+b", "a#b", "a b", ""])
def test_a_device_whose_name_breaks_a_topic_is_refused(technician: FlaskClient, device: str) -> None:
    technician.post("/api/v1/cylinders", json={"serial": "HM-1", "place": "shop"})
    body = {"cylinder": "HM-1", "pressure_device": device}
    assert_problem(technician.post("/api/v1/hookups", json=body), 422, "validation")


def test_a_hookup_needs_a_device(technician: FlaskClient) -> None:
    assert_problem(technician.post("/api/v1/hookups", json={"cylinder": "HM-1"}), 422, "validation")
