"""The AsyncAPI document says what the worker takes and what the service tells."""

import json

import pytest
from flask import Flask

from ingest import senml
from service.api.asyncapi import EXAMPLE_PACK, QUANTITIES, document
from service.operations import events


def test_it_is_served(app: Flask) -> None:
    told = app.test_client().get("/api/v1/asyncapi.json").get_json()
    assert told["asyncapi"] == "3.0.0"
    assert set(told["channels"]) == {"readings", "refused", "events"}


def test_its_example_is_a_pack_that_the_worker_takes() -> None:
    records = senml.resolve(json.dumps(EXAMPLE_PACK), now_s=1777896010.0)
    assert [record.name.rpartition(":")[2] for record in records] == [pack["n"] for pack in EXAMPLE_PACK]


def test_it_names_the_quantities_and_units_of_the_worker() -> None:
    assert {name: units for name, (units, _) in QUANTITIES.items()} == senml._UNITS


def test_it_tells_every_type_of_event() -> None:
    told = {message["name"] for message in document("x")["channels"]["events"]["messages"].values()}
    assert events.VERDICT_REACHED in told
    assert told == {
        value for name, value in vars(events).items() if name.isupper() and isinstance(value, str)
    }


@pytest.mark.parametrize("operation", sorted(document("x")["operations"]))
def test_every_reference_leads_somewhere(operation: str) -> None:
    whole = document("x")
    channel = whole["channels"][whole["operations"][operation]["channel"]["$ref"].removeprefix("#/channels/")]
    for server in channel["servers"]:
        assert server["$ref"].removeprefix("#/servers/") in whole["servers"]
