"""The AsyncAPI document is valid, and true: topics, units and types are those of the code."""

import json
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import jsonschema
import pytest
import yaml
from flask import Flask
from flask.testing import FlaskClient

from ingest.wire import senml
from service.operations import backups, places
from service.operations.deliveries import as_cloudevent
from service.operations.support import events
from service.operations.support.context import Actor, Services
from service.operations.support.events import ALARM_RAISED, PUBLIC_TYPES
from service.operations.webhooks import PING
from service.outbound import broker_access
from service.outbound.cloudevents import ContentMode, message
from service.store.events import Event
from tests.support.fleet import delivered
from tests.support.judge import ScriptedJudge
from tests.support.story import play

TOP = Path(__file__).parents[2]
DOCUMENT = yaml.safe_load((TOP / "service" / "api" / "http" / "data" / "asyncapi.yaml").read_text())
SCHEMAS = DOCUMENT["components"]["schemas"]
MESSAGES = {one["name"]: one for one in DOCUMENT["components"]["messages"].values() if "name" in one}


def test_it_fits_the_schema_of_asyncapi_3() -> None:
    schema = json.loads((Path(__file__).parent / "schemas" / "asyncapi-3.0.0.json").read_text())
    jsonschema.Draft7Validator(schema).validate(DOCUMENT)


def test_references_lead_somewhere() -> None:
    def walk(value: object) -> None:
        if isinstance(value, dict):
            if "$ref" in value:
                found: object = DOCUMENT
                for part in value["$ref"].removeprefix("#/").split("/"):
                    found = found[part]
            for inner in value.values():
                walk(inner)
        elif isinstance(value, list):
            for inner in value:
                walk(inner)

    walk(DOCUMENT)


def test_the_types_of_event_are_those_that_are_delivered() -> None:
    assert set(SCHEMAS["Event"]["properties"]["type"]["enum"]) == {*PUBLIC_TYPES, PING}


def test_quantities_and_topics_are_those_of_the_worker_and_the_broker() -> None:
    assert set(SCHEMAS["Pack"]["items"]["properties"]["n"]["enum"]) == set(senml.QUANTITIES)
    user = broker_access.device_user("{root}", "{place}", "{device}", "u", "h")
    channels = DOCUMENT["channels"]
    assert (user.may_publish, user.may_subscribe) == (
        channels["readings"]["address"],
        channels["refused"]["address"],
    )


def test_the_example_of_a_pack_is_read() -> None:
    (example,) = DOCUMENT["components"]["messages"]["pack"]["examples"]
    jsonschema.validate(example["payload"], SCHEMAS["Pack"])
    readings = senml.read(json.dumps(example["payload"]), "urn:dev:ops:32473-gauge-7", 1772366401.0).readings
    assert len(readings) == 3


def schema_of(message: dict[str, Any]) -> dict[str, Any]:
    """What a message's payload is held to, its references within the document."""
    return {**message["payload"], "components": DOCUMENT["components"]}


def test_every_public_event_has_a_message_with_an_example_that_fits() -> None:
    assert set(MESSAGES) == {*PUBLIC_TYPES, PING}
    for kind, named in MESSAGES.items():
        (example,) = named["examples"]
        assert example["payload"]["type"] == kind
        jsonschema.validate(example["payload"], schema_of(named))
        spoilt = {**example["payload"], "data": {**example["payload"]["data"], "nobody_said": 1}}
        with pytest.raises(jsonschema.ValidationError):
            jsonschema.validate(spoilt, schema_of(named))


def changes(schema: Any) -> set[str]:
    """Every value of ``change`` that a schema of data admits."""
    if "$ref" in schema:
        return changes(SCHEMAS[schema["$ref"].rpartition("/")[2]])
    if "oneOf" in schema:
        return {change for one in schema["oneOf"] for change in changes(one)}
    told = schema["properties"].get("change", {})
    return set(told.get("enum", [told["const"]] if "const" in told else []))


DOCUMENTED = {
    (kind, change)
    for kind, schema in (
        ("heelmark.cylinder.changed", "CylinderChanged"),
        ("heelmark.recovery.changed", "RecoveryChanged"),
        ("heelmark.hookup.changed", "HookupChanged"),
        ("heelmark.place.changed", "PlaceChanged"),
    )
    for change in changes(SCHEMAS[schema])
}


@pytest.fixture
def _more_than_the_examples(
    app: Flask, client_as: Callable[..., FlaskClient], services: Services, actor: Actor, judge: ScriptedJudge
) -> None:
    """Every example of the interface, then what none of them does."""
    play(app, [client_as("administrator"), client_as("worker")])
    supervisor = client_as("supervisor")
    marks = {"place": "shop", "marks": "DOT-4BA400", "water_capacity_kg": 21.6, "tare_kg": 12.7}

    def post(path: str, body: dict[str, Any]) -> dict[str, Any]:
        answer = supervisor.post(f"/api/v1/{path}", json=body)
        assert answer.status_code in (200, 201), (path, answer.get_data(as_text=True))
        return answer.get_json()

    post("cylinders", {"serial": "HM-70", **marks, "claimed_designation": "R-22", "gross_mass_kg": 18.7})
    path = "/api/v1/cylinders/HM-70"
    for gross_kg in (16.0, 18.7):  # a leak begins and ends
        version = {"If-Match": supervisor.get(path).headers["ETag"]}
        assert supervisor.patch(path, json={"gross_mass_kg": gross_kg}, headers=version).status_code == 200
    judge.disposition = "hold"
    post("cylinders", {"serial": "HM-71", **marks, "claimed_designation": "R-22"})
    post("equilibrium-pairs", {"cylinder": "HM-71", "temperature_c": 22.0, "gauge_pressure_kpa": 900.0})
    post("cylinders/HM-71/advice-releases", {"reason": "a laboratory knows"})
    attached = post("hookups", {"cylinder": "HM-70", "pressure_device": "g-70", "temperature_device": "t-70"})
    supervisor.delete(f"/api/v1/hookups/{attached['id']}")
    asked = post("instructions", {"cylinder": "HM-70", "text": "What does it weigh?"})
    post(f"instructions/{asked['id']}/done", {"answer": "41.2 lb"})
    held = post("holds", {"cylinder": "HM-70", "reason": "dent"})
    supervisor.delete(f"/api/v1/holds/{held['id']}")
    places.set_rule_book(services, actor, "shop", "eu")
    backups.failed(services, "no room.")
    backups.succeeded(services)


@pytest.mark.usefixtures("_more_than_the_examples")
def test_every_event_that_is_emitted_fits_its_schema(services: Services, actor: Actor) -> None:
    told = [event for event in every_event(services, actor) if event.type in PUBLIC_TYPES]
    for event in told:
        _, body = message([as_cloudevent(event, "https://heelmark.example")], ContentMode.STRUCTURED)
        jsonschema.validate(json.loads(body), schema_of(MESSAGES[event.type]))
    assert {event.type for event in told} == set(PUBLIC_TYPES)
    seen = {(event.type, event.data["change"]) for event in told if "change" in event.data}
    assert DOCUMENTED - seen == set()


def every_event(services: Services, actor: Actor) -> Iterator[Event]:
    last = 0
    while found := events.follow(services, actor, last):
        yield from found
        last = found[-1].id


def test_the_figures_of_a_cause_are_in_its_event(services: Services, actor: Actor) -> None:
    delivered(services, actor, evacuated=False, claimed_designation="R-22", gross_mass_kg=12.4 + 21.5)
    raised = {one.data["code"]: one for one in every_event(services, actor) if one.type == ALARM_RAISED}
    overfull = raised["overfull"]
    assert overfull.data["details"]["net_mass_kg"] == pytest.approx(21.5)


def test_the_service_serves_it_to_whoever_asks(app: Flask) -> None:
    answer = app.test_client().get("/api/v1/asyncapi.yaml")
    assert (answer.status_code, answer.mimetype) == (200, "application/yaml")
    assert yaml.safe_load(answer.data) == DOCUMENT
    again = app.test_client().get("/api/v1/asyncapi.yaml", headers={"If-None-Match": answer.headers["ETag"]})
    assert again.status_code == 304
    told = app.test_client().get("/api/v1/openapi.json").get_json()
    assert told["externalDocs"]["url"] == "/api/v1/asyncapi.yaml"
    assert told["servers"] == [{"url": "/", "description": "The installation that serves this document."}]
