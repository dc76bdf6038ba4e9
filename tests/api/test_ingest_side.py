"""What the worker needs: hookups with tags, live batches, devices seen."""

from datetime import UTC, datetime

import pytest
from flask.testing import FlaskClient

from tests.support.http import assert_problem
from tests.support.live_batches import following, heard, together

AT = "2026-05-04T12:00:00Z"
NOON = datetime(2026, 5, 4, 12, tzinfo=UTC)


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
    assert worker.put("/api/v1/live", json=batch).status_code == 204
    (said, _) = batch["hookups"]
    shown = technician.get(f"/api/v1/hookups/{hookup}/live").get_json()
    assert (shown["settling_state"], shown["reasons"]) == ("settled", said["reasons"])
    assert shown["temperature_f"] == pytest.approx(said["temperature_c"] * 1.8 + 32.0)
    assert shown["absolute_pressure_kpa"] == pytest.approx(said["gauge_pressure_kpa"] + 101.325)
    (seen,) = technician.get("/api/v1/devices?attached=false").get_json()["items"]
    assert seen["device"] == "probe-9"
    assert seen["readings"]["gauge-pressure"]["value"] == 943_000
    assert seen["readings"]["wall-temperature"] == {"value": 297.15, "unit": "K", "at": AT}


@pytest.mark.parametrize("unit", ["Cel", "psi"])
def test_a_reading_in_a_unit_that_no_worker_passes_on_is_refused(worker: FlaskClient, unit: str) -> None:
    batch = heard("probe-9", at=NOON)
    batch["devices"][0]["readings"]["wall-temperature"]["unit"] = unit
    refused = worker.put("/api/v1/live", json=batch)
    assert_problem(refused, 422, "validation")
    assert refused.get_json()["errors"][0]["expected"] == "K"


def test_before_the_worker_spoke_there_is_nothing_to_show(technician: FlaskClient, hookup: int) -> None:
    assert_problem(technician.get(f"/api/v1/hookups/{hookup}/live"), 404, "not-found")


@pytest.mark.parametrize("device", ["a/b", "a+b", "a#b", "a b", ""])
def test_a_device_whose_name_breaks_a_topic_is_refused(technician: FlaskClient, device: str) -> None:
    technician.post("/api/v1/cylinders", json={"serial": "HM-1", "place": "shop"})
    body = {"cylinder": "HM-1", "pressure_device": device}
    assert_problem(technician.post("/api/v1/hookups", json=body), 422, "validation")


def test_a_hookup_needs_a_device(technician: FlaskClient) -> None:
    assert_problem(technician.post("/api/v1/hookups", json={"cylinder": "HM-1"}), 422, "validation")
