"""The AsyncAPI document is valid, and true: topics, units and types are those of the code."""

import json
from collections.abc import Callable
from pathlib import Path

import jsonschema
import yaml
from flask.testing import FlaskClient

from ingest.wire import senml
from service.api import examples
from service.operations import events
from service.operations.context import Actor, Services
from service.operations.deliveries import as_cloudevent
from service.operations.webhooks import PING, PUBLIC_TYPES
from service.outbound import broker_access
from service.outbound.cloudevents import ContentMode, message

TOP = Path(__file__).parents[2]
DOCUMENT = yaml.safe_load((TOP / "deploy" / "asyncapi.yaml").read_text())
SCHEMAS = DOCUMENT["components"]["schemas"]


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


def test_every_event_of_a_cylinders_day_fits(
    client_as: Callable[..., FlaskClient], services: Services, actor: Actor
) -> None:
    technician = client_as("technician")
    technician.post("/api/v1/cylinders", json=examples.CYLINDER)
    technician.post("/api/v1/hookups", json=examples.HOOKUP)
    technician.post("/api/v1/equilibrium-pairs", json=examples.PAIR)
    told = [e for e in events.follow(services, actor, 0) if e.type in PUBLIC_TYPES]
    assert len({event.type for event in told}) >= 3
    for event in told:
        _, body = message(as_cloudevent(event, "https://heelmark.example"), ContentMode.STRUCTURED)
        jsonschema.validate(json.loads(body), SCHEMAS["Event"])
