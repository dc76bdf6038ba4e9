"""The document says of every property and every parameter what it is, and closed vocabularies are listed."""

from collections.abc import Iterator
from typing import Any

from flask import Flask

from service.api.http.vocabulary import UNITS, meaning, sentences


def read(app: Flask) -> dict[str, Any]:
    told: dict[str, Any] = app.test_client().get("/api/v1/openapi.json").get_json()
    return told


def properties(document: dict[str, Any]) -> Iterator[tuple[str, str, dict[str, Any]]]:
    for schema, described in document["components"]["schemas"].items():
        for name, one in described.get("properties", {}).items():
            yield schema, name, one


def parameters(document: dict[str, Any]) -> Iterator[tuple[str, dict[str, Any]]]:
    for path, operations in document["paths"].items():
        for method, told in operations.items():
            for one in told if method == "parameters" else told.get("parameters", []):
                yield f"{method} {path}", one


def test_every_property_and_parameter_is_described(app: Flask) -> None:
    document = read(app)
    silent = [f"{schema}.{name}" for schema, name, one in properties(document) if not one.get("description")]
    assert silent == []
    unsaid = [f"{where} {one['name']}" for where, one in parameters(document) if not one.get("description")]
    assert unsaid == []


def test_a_property_with_a_unit_in_its_name_says_it(app: Flask) -> None:
    with_one = [
        (schema, name, one) for schema, name, one in properties(read(app)) if name.endswith(tuple(UNITS))
    ]
    assert len(with_one) > 250
    assert [f"{schema}.{name}" for schema, name, one in with_one if "[" not in one["description"]] == []


def test_nothing_is_described_that_there_is_not(app: Flask) -> None:
    document = read(app)
    used = {found[0] for schema, name, _ in properties(document) if (found := meaning(schema, name))}
    for _, one in parameters(document):
        for where in ("path", "header", *QUERIES):
            if found := meaning(where, one["name"]):
                used.add(found[0])
    assert sentences().keys() - used == set()


QUERIES = {key.partition(".")[0] for key in sentences() if key.partition(".")[0].endswith("Args")}


def test_what_differs_by_schema_is_told_by_schema() -> None:
    assert meaning("Price", "charge_per_kg") == ("Price.charge", "what destroying it costs [per kg]")
    assert meaning("Transfer", "charge_lb") == ("charge", "nameplate charge of the equipment [lb]")
    assert meaning("Pair", "no_such_name") is None
