"""Mappings on both sides: what the service keeps the worker reads by, to the same numbers and the same refusals."""

import json
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient
from hypothesis import given, settings
from hypothesis import strategies as st

import service.mappings
from ingest.wire.http import Service
from ingest.wire.mapping import BadMapping, kept_mappings
from ingest.wire.mapping import parse as worker_parse
from ingest.wire.reading import Refused
from ingest.wire.sparkplug import Address, Births
from ingest.wire.translator import Translator
from ingest.wire.units import UNITS as WORKER_UNITS
from service.mappings.mapping import FaultyMapping, parse
from service.mappings.toml_text import documents, written
from service.mappings.trial import try_on
from service.mappings.units import UNITS
from service.operations import tokens
from service.operations.support.context import Actor, Services
from tests.support.clock import Clock
from tests.support.live_batches import unread
from tests.support.served import served
from tests.support.sparkplug_bytes import double, metric, payload

NOW = 1772366402.0
SHIPPED = [
    document
    for path in sorted((Path(service.mappings.__file__).parent / "shipped").glob("*.toml"))
    for document in documents(path.read_text())
]
VALUE = [{"quantity": "mass", "path": "kg", "unit": "kg"}]
GOOD = {"name": "m", "topic": "x/{place}/{device}", "value": VALUE}
NODE_TOPIC = "spBv1.0/shop/DDATA/edge-3/gauge-3"
NODE_SAID = payload(
    3,
    metric(double(13, 136.6), name="Pressure/Gauge", at_ms=1772366400123),
    metric(double(13, 76.6), name="Temperature/Wall"),
    at_ms=1772366401000,
)
MESSAGES: dict[str, list[tuple[str, Any]]] = {
    "flat-json": [("vans/van-7/gauge-3/state", {"psi": 136.6, "temp": 76.6, "batt": 81, "ts": 1772366400123})],
    "scalar-pressure": [("shop-sensors/gauge-3/pressure", 9.42), ("shop-sensors/gauge-3/pressure", "9.42")],
    "scalar-temperature": [("shop-sensors/clamp-3/temperature", 24.5)],
    "lorawan-uplink": [
        (
            "lorawan/shop/up",
            {
                "dev_eui": "0024befffe804ff1",
                "received_at": "2026-03-01T12:00:00Z",
                "decoded": {"pressure_kpa": 942.0, "temperature_c": 24.5, "battery": 0.81},
            },
        ),
        ("lorawan/shop/up", {"dev_eui": 3, "received_at": "yesterday", "decoded": {"pressure_kpa": 9}}),
    ],
    "observations": [
        (
            "observations/shop",
            {
                "value": [
                    {"device": "g", "datastream": "pressure", "unit": "bar", "result": 9.42,
                     "phenomenonTime": "2026-03-01T12:00:00Z"},
                    {"device": "c", "datastream": "temperature", "unit": "stone", "result": 24.5,
                     "phenomenonTime": "2026-03-01T12:00:00Z"},
                ]
            },
        )
    ],
    "bridge-state": [
        ("bridge/shop/g", {"state": {"pressure": "9.42", "temperature": "unavailable"}, "unit": {"pressure": "bar"}})
    ],
    "sparkplug": [(NODE_TOPIC, Births().shown(Address.of(NODE_TOPIC), NODE_SAID))],
}  # fmt: skip


@pytest.fixture
def side(app: Flask, services: Services, actor: Actor) -> Iterator[Service]:
    secret = tokens.create(services, actor, name="worker", scope="worker").secret
    with served(app) as url:
        yield Service(url, secret)


@pytest.fixture
def supervisor(client_as: Callable[..., FlaskClient]) -> FlaskClient:
    return client_as("supervisor")


def by_worker(document: dict[str, Any], topic: str, message: object) -> tuple[list[Any], bool]:
    kept, faults = kept_mappings([{"name": document["name"], "version": 1, "mapping": document}], "heelmark")
    assert not faults
    try:
        payload = NODE_SAID if topic == NODE_TOPIC else json.dumps(message).encode()
        found = Translator(kept).read(topic, payload, NOW)
    except Refused:
        return [], True
    readings = [
        (one.device, found.place, one.quantity, one.value, one.stamp_s) for one in found.taken.readings
    ]
    return readings, bool(found.taken.refusals)


def test_both_sides_know_the_same_units() -> None:
    assert {name: dict(units) for name, units in UNITS.items()} == WORKER_UNITS


@pytest.mark.parametrize("document", SHIPPED, ids=lambda document: document["name"])
def test_a_trial_reads_what_the_worker_reads(document: dict[str, Any]) -> None:
    for topic, message in MESSAGES[document["name"]]:
        found = try_on(parse(document), topic, message, NOW)
        mine = [(one.device, one.place, one.quantity, one.value, one.stamp_s) for one in found.readings]
        assert (mine, bool(found.faults)) == by_worker(document, topic, message)
    assert documents(written(document)) == [document]


@pytest.mark.parametrize(
    "change",
    [
        {},
        {"topic": "x/{device}"},
        {"topic": "x/{device}", "place": "'shop'"},
        {"topic": "x/+/{device}/{place}"},
        {"topic": "{place}/{device}"},
        {"topic": "x/{place}/{place}"},
        {"topic": "heelmark/{place}/readings/{device}"},
        {"device": "topic.serial"},
        {"device": "name["},
        {"device": "[" * 390},
        {"device": "join('-', [a, b])"},
        {"device": "join(a, [b, c])"},
        {"each": "|".join(["[@,@][]"] * 6)},
        {"each": "|".join(["[@,@][]"] * 30)},
        {"device": "to_string(to_string(a))"},
        {"device": "to_string([to_string([to_string([a])])])"},
        {"each": "[]"},
        {"time": {"form": "unix"}},
        {"time": {"form": "arrival", "path": "t"}},
        {"time": {"form": "epoch", "path": "t"}},
        {"value": []},
        {"value": "kg"},
        {"value": [{"quantity": "mass", "path": "kg", "unit": "stone"}]},
        {"value": [{"quantity": "mass", "path": "kg", "unit": "kg", "unit_path": "u"}]},
        {"value": [{"quantity": "speed", "path": "kg", "unit": "kg"}]},
        {"colour": "blue"},
        {"name": ""},
    ],
)
def test_what_the_service_takes_the_worker_takes_and_what_it_refuses_the_worker_refuses(
    change: dict[str, Any],
) -> None:
    document = GOOD | change
    try:
        parse(document)
        taken = True
    except FaultyMapping:
        taken = False
    try:
        worker_parse(json.dumps({"mapping": [document]}), toml=False, root="heelmark")
        by_worker_taken = True
    except BadMapping:
        by_worker_taken = False
    assert taken == by_worker_taken


PATHS = st.sampled_from(
    ("@", "a", "a.b", "[0].a", "topic.device", "topic.place", "topic.none", "name[", "'shop'", "sum(a)", 3)
)
UNIT = st.sampled_from(("Pa", "kPa", "[psi]", "Cel", "[degF]", "kg", "%", "1", "stone", 7))
VALUES = st.fixed_dictionaries(
    {"quantity": st.sampled_from((*UNITS, "speed", None)), "path": PATHS},
    optional={"unit": UNIT, "unit_path": st.sampled_from(("a.u", "u", "topic.device"))},
)
TIMES = st.fixed_dictionaries(
    {"form": st.sampled_from(("unix", "unix-ms", "rfc3339", "arrival", "epoch"))},
    optional={"path": st.sampled_from(("t", "topic.place", "a.t"))},
)
TOPICS = ("x/{place}/{device}", "x/{device}", "x/y", "x/+/{device}", "{place}/{device}")
DOCUMENTS = st.fixed_dictionaries(
    {"name": st.just("m"), "topic": st.sampled_from(TOPICS), "value": st.lists(VALUES, max_size=3)},
    optional={"each": PATHS, "device": PATHS, "place": PATHS, "time": TIMES},
)
LEAF = st.sampled_from(
    (None, True, 24.5, -1e300, 10**400, "9.42", "kPa", "Cel", "gauge-3", "a b", "2026-03-01")
)
MESSAGES_OF_ANY_SHAPE = st.recursive(
    LEAF,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.sampled_from("abut"), inner, max_size=4),
    max_leaves=8,
)


@settings(max_examples=300, deadline=None)
@given(
    document=DOCUMENTS, message=MESSAGES_OF_ANY_SHAPE, stamp=st.sampled_from((NOW, NOW * 1000, NOW + 900.0))
)
def test_whatever_the_mapping_and_the_message_both_sides_decide_alike(
    document: dict[str, Any], message: Any, stamp: float
) -> None:
    if isinstance(message, dict):
        message = {**message, "t": stamp}
    try:
        mapping = parse(document)
    except FaultyMapping:
        with pytest.raises(BadMapping):
            worker_parse(json.dumps({"mapping": [document]}), toml=False, root="heelmark")
        return
    for topic in ("x/shop/gauge-3", "x/gauge-3", "x/y"):
        found = try_on(mapping, topic, message, NOW)
        mine = [(one.device, one.place, one.quantity, one.value, one.stamp_s) for one in found.readings]
        assert (mine, bool(found.faults)) == by_worker(document, topic, message)


def test_the_worker_fetches_what_a_supervisor_saved_and_nothing_twice(
    supervisor: FlaskClient, side: Service
) -> None:
    none = side.mappings(None)
    assert none is not None and none.items == []
    first = supervisor.put("/api/v1/mappings/m", json={"mapping": GOOD})
    assert (first.status_code, first.get_json()["version"]) == (200, 1)
    fetched = side.mappings(none.etag)
    assert fetched is not None and side.mappings(fetched.etag) is None
    (mapping,), faults = fetched.parsed("heelmark")
    assert (mapping.label, faults) == ("m 1", [])
    changed = {**GOOD, "value": [{"quantity": "mass", "path": "lb", "unit": "[lb_av]"}]}
    stale = supervisor.put("/api/v1/mappings/m", json={"mapping": changed}, headers={"If-Match": '"7"'})
    assert stale.status_code == 412
    second = supervisor.put(
        "/api/v1/mappings/m", json={"mapping": changed}, headers={"If-Match": first.headers["ETag"]}
    )
    assert second.get_json()["version"] == 2
    again = side.mappings(fetched.etag)
    assert again is not None and again.parsed("heelmark")[0][0].label == "m 2"
    assert supervisor.delete("/api/v1/mappings/m").status_code == 204
    last = side.mappings(again.etag)
    assert last is not None and last.items == []
    history = supervisor.get("/api/v1/mappings/m/versions").get_json()["items"]
    assert [(one["version"], one["mapping"] is None) for one in history] == [
        (3, True),
        (2, False),
        (1, False),
    ]
    assert supervisor.get("/api/v1/mappings/m").status_code == 404


def test_a_technician_may_try_a_mapping_but_not_keep_one(technician: FlaskClient) -> None:
    assert technician.put("/api/v1/mappings/m", json={"mapping": GOOD}).status_code == 403
    tried = technician.post(
        "/api/v1/mapping-trials", json={"mapping": GOOD, "topic": "x/shop/scale-1", "message": {"kg": 20.5}}
    ).get_json()
    (reading,) = tried["readings"]
    assert (reading["device"], reading["place"], reading["value"], reading["unit"]) == (
        "scale-1",
        "shop",
        20.5,
        "kg",
    )


def test_what_a_saved_mapping_reads_is_no_longer_shown_as_unread(
    supervisor: FlaskClient, side: Service, clock: Clock, tmp_path: Path
) -> None:
    psi = b'[{"bn":"probe-9:","n":"gauge-pressure","u":"psi","v":118}]'
    assert side.put_live(unread(tmp_path, "probe-9", clock(), psi)) == []
    (shown,) = supervisor.get("/api/v1/not-understood").get_json()["items"]
    assert (shown["topic"], shown["message"]) == ("heelmark/shop/readings/probe-9", json.loads(psi))
    value = [{"quantity": "gauge-pressure", "path": "[0].v", "unit": "[psi]"}]
    other = {"name": "m", "topic": "heelmark/{place}/readings/{device}", "each": "[@]", "value": value}
    supervisor.put(
        "/api/v1/mappings/n", json={"mapping": {**other, "name": "n", "topic": "y/{place}/{device}"}}
    )
    assert len(supervisor.get("/api/v1/not-understood").get_json()["items"]) == 1
    supervisor.put("/api/v1/mappings/m", json={"mapping": other})
    assert supervisor.get("/api/v1/not-understood").get_json()["items"] == []
