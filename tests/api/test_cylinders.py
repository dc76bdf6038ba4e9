"""Cylinders over HTTP: tags, corrections, pages, both units."""

from datetime import datetime, timedelta

import pytest
from flask.testing import FlaskClient

from tests.support.clock import Clock
from tests.support.http import assert_problem


def make(client: FlaskClient, serial: str = "HM-1", **values: object) -> None:
    assert client.post("/api/v1/cylinders", json={"serial": serial, **values}).status_code == 201


def test_answers_carry_both_units(technician: FlaskClient) -> None:
    make(technician, water_capacity_lb=47.7, tare_lb=27.4, gross_mass_lb=45.0)
    body = technician.get("/api/v1/cylinders/HM-1").get_json()
    assert body["water_capacity_lb"] == pytest.approx(47.7)
    assert body["water_capacity_kg"] == pytest.approx(21.636, abs=1e-3)
    assert body["net_mass_lb"] == pytest.approx(17.6)


def test_a_correction_takes_the_tag_of_what_was_read(technician: FlaskClient) -> None:
    make(technician, owner="us")
    read = technician.get("/api/v1/cylinders/HM-1")
    tag = read.headers["ETag"]
    changed = technician.patch("/api/v1/cylinders/HM-1", json={"owner": None}, headers={"If-Match": tag})
    assert changed.status_code == 200
    assert (changed.get_json()["owner"], changed.headers["ETag"] != tag) == (None, True)
    again = technician.patch("/api/v1/cylinders/HM-1", json={"owner": "x"}, headers={"If-Match": tag})
    assert_problem(again, 412, "stale")
    without = technician.patch("/api/v1/cylinders/HM-1", json={"owner": "x"})
    assert_problem(without, 428, "precondition-required")
    star = technician.patch("/api/v1/cylinders/HM-1", json={"owner": "x"}, headers={"If-Match": "*"})
    assert star.status_code == 200


def test_what_has_not_changed_is_304(technician: FlaskClient) -> None:
    make(technician)
    tag = technician.get("/api/v1/cylinders/HM-1").headers["ETag"]
    again = technician.get("/api/v1/cylinders/HM-1", headers={"If-None-Match": tag})
    assert (again.status_code, again.data) == (304, b"")


def test_pages_walk_through_everything_once(technician: FlaskClient) -> None:
    for number in range(7):
        make(technician, f"HM-{number}")
    serials, path = [], "/api/v1/cylinders?limit=3"
    for _ in range(3):
        body = technician.get(path).get_json()
        serials += [item["serial"] for item in body["items"]]
        path = f"/api/v1/cylinders?limit=3&after={body['next']}"
    assert serials == [f"HM-{number}" for number in range(7)]
    assert body["next"] is None


def test_what_changed_since_a_moment_is_listed_alone(technician: FlaskClient, clock: Clock) -> None:
    for serial in ("HM-1", "HM-2", "HM-3"):
        make(technician, serial)
    clock.forward(hours=1)
    since = clock()
    technician.patch("/api/v1/cylinders/HM-2", json={"owner": "us"}, headers={"If-Match": "*"})

    def changed(moment: datetime) -> list[str]:
        query = {"updated_since": moment.isoformat()}
        body = technician.get("/api/v1/cylinders", query_string=query).get_json()
        return [one["serial"] for one in body["items"]]

    assert changed(since) == ["HM-2"]
    assert changed(since - timedelta(hours=1)) == ["HM-1", "HM-2", "HM-3"]
    assert changed(since + timedelta(seconds=1)) == []
    refused = technician.get("/api/v1/cylinders?updated_since=yesterday")
    assert_problem(refused, 422, "validation")


@pytest.mark.parametrize("serial", ["", " HM", "HM/1", "HM#1", "x" * 65, "HM\u0000", 5, None])
def test_a_serial_that_cannot_be_is_refused(technician: FlaskClient, serial: object) -> None:
    assert_problem(technician.post("/api/v1/cylinders", json={"serial": serial}), 422, "validation")


def test_a_pair_typed_in_ends_in_a_verdict(technician: FlaskClient) -> None:
    make(technician, place="shop")
    body = {"cylinder": "HM-1", "temperature_f": 68, "gauge_pressure_psi": 117.3, "elevation_m": 0}
    answer = technician.post("/api/v1/equilibrium-pairs", json=body)
    assert answer.status_code == 201
    told = answer.get_json()
    assert told["pair"]["gauge_pressure_psi"] == pytest.approx(117.3)
    assert told["pair"]["temperature_f"] == pytest.approx(68)
    newest = technician.get("/api/v1/cylinders/HM-1/verdict").get_json()
    assert newest.pop("stake")["at_stake"] == 0.0
    assert newest == told["verdict"]
    (listed,) = technician.get("/api/v1/cylinders/HM-1/verdicts").get_json()["items"]
    # What was reached stays as it was; what to do now is more than the readings say.
    assert listed.pop("disposition")["text"] == "Keep it."
    assert newest.pop("disposition")["text"].startswith("Not known: ")
    assert listed == newest
    assert technician.get("/api/v1/cylinders/HM-1/pairs").get_json()["items"] == [told["pair"]]


def test_without_evidence_there_is_no_verdict(technician: FlaskClient) -> None:
    make(technician)
    for path in ("verdict", "chart"):
        assert_problem(technician.get(f"/api/v1/cylinders/HM-1/{path}"), 404, "not-found")
    assert technician.get("/api/v1/cylinders/HM-1/verdicts").get_json() == {"items": [], "next": None}
