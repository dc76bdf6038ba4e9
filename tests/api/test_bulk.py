"""Many at once from CSV, and everything out again as lines."""

import json
from collections.abc import Callable
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient

from service.operations import cylinders, devices, imports
from service.operations.support.context import Actor, Services
from service.store import exports
from service.store.paging import PageRequest
from service.store.tables import metadata
from tests.conftest import make_owner
from tests.support.http import assert_problem
from tests.support.story import play

CYLINDERS = "/api/v1/imports/cylinders"
FILE = (
    "serial,tare_lb,claimed_designation,valves,place\r\n"
    "A,27.4,r22,vapour;liquid,shop\r\n"
    "B,heavy,R-22,,\r\n"
    "\r\n"
    'C,12,R-9999,,\r\n"D",12,,,moon\r\n'
    "E,,,,\r\n"
)


@pytest.fixture
def supervisor(client_as: Callable[..., FlaskClient]) -> FlaskClient:
    return client_as("supervisor")


def send(client: FlaskClient, text: str | bytes, path: str = CYLINDERS, **query: Any) -> Any:
    return client.post(path, data=text, content_type="text/csv", query_string=query)


def serials(services: Services, actor: Actor) -> list[str]:
    page = cylinders.listed(services, actor, PageRequest(200), place=None, designation=None)
    return [cylinder.serial for cylinder in page.items]


def test_good_rows_are_kept_and_bad_ones_told_by_number(
    supervisor: FlaskClient, services: Services, actor: Actor
) -> None:
    report = send(supervisor, FILE).get_json()
    assert (report["rows"], report["created"], report["refused"]) == (5, 2, 3)
    assert [(e["row"], e["field"], e["value"]) for e in report["errors"]] == [
        (2, "tare_lb", "heavy"),
        (4, "claimed_designation", "R-9999"),
        (5, "place", "moon"),
    ]
    assert serials(services, actor) == ["A", "E"]
    first = cylinders.read(services, actor, "A")
    assert (first.claimed_designation, first.valves, first.place) == ("R-22", ["vapour", "liquid"], "shop")


ROWS: list[Any] = [
    {
        "serial": "A",
        "tare_lb": 27.4,
        "claimed_designation": "r22",
        "valves": ["vapour", "liquid"],
        "place": "shop",
    },
    {"serial": "B", "tare_lb": "heavy", "claimed_designation": "R-22"},
    {"serial": "C", "tare_lb": 12, "claimed_designation": "R-9999"},
    {"serial": "D", "tare_lb": 12, "place": "moon"},
    {"serial": "E"},
    "F",
]


def test_json_rows_are_kept_and_refused_as_rows_of_csv(
    supervisor: FlaskClient, services: Services, actor: Actor
) -> None:
    rehearsed = supervisor.post(CYLINDERS, json=ROWS, query_string={"dry_run": "true"}).get_json()
    assert serials(services, actor) == []
    report = supervisor.post(CYLINDERS, json=ROWS).get_json()
    assert rehearsed == {**report, "dry_run": True}
    assert (report["rows"], report["created"], report["refused"]) == (6, 2, 4)
    from_csv = send(supervisor, FILE, dry_run="true").get_json()["errors"]
    told = [(e["field"], e["value"], e["expected"]) for e in report["errors"]]
    assert told[:3] == [(e["field"], e["value"], e["expected"]) for e in from_csv]
    assert told[3] == ("", "F", "an object")
    assert [e["row"] for e in report["errors"]] == [2, 3, 4, 6]
    assert serials(services, actor) == ["A", "E"]
    again = supervisor.post(CYLINDERS, json=ROWS, query_string={"from_row": 5}).get_json()
    assert (again["rows"], again["created"], again["unchanged"], again["refused"]) == (2, 0, 1, 1)


def test_devices_come_from_json_too(supervisor: FlaskClient, services: Services, actor: Actor) -> None:
    rows = [
        {"device": "g-1", "place": "shop", "probe_lag_s": 75},
        {"device": "g 2"},
        {"device": "g-3", "lag": 1},
    ]
    report = supervisor.post("/api/v1/imports/devices", json=rows).get_json()
    assert (report["created"], report["refused"]) == (1, 2)
    assert [(e["row"], e["field"]) for e in report["errors"]] == [(2, "device"), (3, "lag")]


@pytest.mark.parametrize(
    ("body", "kind", "status"),
    [
        ("{}", "application/json", 422),
        ("[", "application/json", 400),
        ("[" * 100_000, "application/json", 400),
        ("serial", "text/plain", 415),
    ],
)
def test_what_is_no_list_of_rows_is_refused_whole(
    supervisor: FlaskClient, body: str, kind: str, status: int
) -> None:
    assert_problem(supervisor.post(CYLINDERS, data=body, content_type=kind), status)


def test_a_dry_run_tells_the_same_and_keeps_nothing(
    supervisor: FlaskClient, services: Services, actor: Actor
) -> None:
    rehearsed = send(supervisor, FILE, dry_run="true").get_json()
    assert serials(services, actor) == []
    done = send(supervisor, FILE).get_json()
    assert rehearsed == {**done, "dry_run": True}


def test_a_file_sent_again_changes_nothing(supervisor: FlaskClient) -> None:
    send(supervisor, FILE)
    again = send(supervisor, FILE).get_json()
    assert (again["created"], again["unchanged"], again["refused"]) == (0, 2, 3)
    other = send(supervisor, "serial,tare_lb\nA,30\n").get_json()
    assert (other["refused"], other["errors"][0]["field"]) == (1, "tare_kg")


def test_a_file_may_go_on_where_it_broke_off(
    supervisor: FlaskClient, services: Services, actor: Actor
) -> None:
    rows = "serial\n" + "".join(f"S{number}\n" for number in range(1, 251))
    report = send(supervisor, rows, from_row=201).get_json()
    assert (report["rows"], report["created"]) == (50, 50)
    assert len(serials(services, actor)) == 50


def test_what_was_committed_before_a_broken_line_stays(
    supervisor: FlaskClient, services: Services, actor: Actor
) -> None:
    good = "serial\n" + "".join(f"S{number}\n" for number in range(imports.BATCH + 1))
    (error,) = assert_problem(send(supervisor, good + '"A"B\n'), 422, "validation")["errors"]
    assert error["value"] == f"line {imports.BATCH + 3}"
    assert len(serials(services, actor)) == imports.BATCH


def test_what_is_not_utf_8_is_refused_in_its_row_alone(supervisor: FlaskClient) -> None:
    report = send(supervisor, b"\xef\xbb\xbfserial,owner\nA,caf\xe9\nB,caf\xc3\xa9\n").get_json()
    assert (report["created"], report["errors"][0]["row"]) == (1, 1)


def test_a_file_larger_than_other_bodies_is_taken(supervisor: FlaskClient) -> None:
    notes = "x" * 1900
    rows = "serial,notes\n" + "".join(f"S{number},{notes}\n" for number in range(800))
    assert len(rows) > 1_500_000
    assert send(supervisor, rows, dry_run="true").get_json()["created"] == 800


@pytest.mark.parametrize(
    "text", ["", "\n", "colour\nblue\n", "serial,serial\nA,B\n", "\ufeffserial,tare_kg\n\x00", b"\xff\xfe"]
)
def test_a_file_that_cannot_be_read_is_a_problem(supervisor: FlaskClient, text: str | bytes) -> None:
    answer = send(supervisor, text)
    if answer.status_code == 200:
        assert answer.get_json()["created"] == 0
    else:
        assert_problem(answer, 422, "validation")


def test_devices_are_taken_before_they_are_heard(
    supervisor: FlaskClient, services: Services, actor: Actor
) -> None:
    text = "device,place,probe_lag_s\nclamp-1,shop,75\nclamp 2,shop,\nclamp-3,moon,\n"
    report = send(supervisor, text, "/api/v1/imports/devices").get_json()
    assert (report["created"], [e["field"] for e in report["errors"]]) == (1, ["device", "place"])
    again = send(supervisor, text, "/api/v1/imports/devices").get_json()
    assert again["unchanged"] == 1
    (device,) = devices.listed(services, actor, PageRequest(), attached=False).items
    assert (device.name, device.last_seen_at, device.probe_lag_s) == ("clamp-1", None, 75.0)
    listed = supervisor.get("/api/v1/devices").get_json()["items"]
    assert listed[0]["last_seen"] is None


def lines(client: FlaskClient, **query: str) -> list[dict[str, Any]]:
    answer = client.get("/api/v1/export", query_string=query)
    assert answer.status_code == 200
    assert answer.content_type == "application/x-ndjson"
    return [json.loads(line) for line in answer.get_data(as_text=True).splitlines()]


def test_everything_comes_out_once_and_in_order(
    app: Flask, supervisor: FlaskClient, client_as: Callable[..., FlaskClient]
) -> None:
    play(app, [client_as("administrator"), client_as("worker")])
    told = lines(supervisor)
    marks = [line["mark"] for line in told]
    assert len(set(marks)) == len(marks)
    assert {"places", "cylinders", "pairs", "verdicts", "transfers", "events"} <= {
        line["table"] for line in told
    }
    places = [exports.TABLES.index(line["table"]) for line in told]
    assert places == sorted(places)
    middle = len(told) // 2
    assert lines(supervisor, after=marks[middle]) == told[middle + 1 :]


def test_no_secret_comes_out(
    app: Flask, supervisor: FlaskClient, client_as: Callable[..., FlaskClient]
) -> None:
    play(app, [client_as("administrator"), client_as("worker")])
    for line in lines(supervisor):
        assert not set(line["row"]) & exports.SECRET
        named_so = {name for name in line["row"] if "secret" in name or "hash" in name or "digest" in name}
        assert named_so <= {"previous_secret_until"}


def test_nothing_of_another_owner_comes_out(
    app: Flask, services: Services, client_as: Callable[..., FlaskClient]
) -> None:
    play(app, [client_as("administrator"), client_as("worker")])
    stranger = make_owner(services, "other")
    told = lines(client_as("supervisor", stranger))
    assert {line["row"]["organisation_id"] for line in told} == {stranger.organisation_id}


def test_every_table_is_exported_or_left_out_with_a_reason() -> None:
    assert set(exports.TABLES) | set(exports.LEFT_OUT) == set(metadata.tables)
    assert not set(exports.TABLES) & set(exports.LEFT_OUT)


@pytest.mark.parametrize(
    "mark", ["x", "cylinders", "cylinders:", "cylinders:-1", "no.table:1", "events:" + "9" * 30]
)
def test_a_mark_that_is_none_is_refused(supervisor: FlaskClient, mark: str) -> None:
    assert_problem(supervisor.get(f"/api/v1/export?after={mark}"), 422, "validation")
