"""The document says of every property and every parameter what it is, and closed vocabularies are listed."""

from collections.abc import Iterator
from typing import Any

from flask import Flask
from jsonschema import Draft202012Validator, FormatChecker

from service.api.http.vocabulary import UNITS, by_hand, collected, meaning, sentences


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


def leaves(document: dict[str, Any]) -> Iterator[tuple[str, dict[str, Any]]]:
    """Properties that are not made of other schemas, whose properties have examples of their own."""
    for schema, name, one in properties(document):
        if "$ref" not in str(one):
            yield f"{schema}.{name}", one


def test_every_property_has_an_example_that_it_allows(app: Flask) -> None:
    document = read(app)
    told = dict(leaves(document))
    assert len(told) > 1000
    assert [name for name, one in told.items() if "example" not in one and not one.get("examples")] == []
    wrong = {
        name: fault.message
        for name, one in told.items()
        for example in [*one.get("examples", ()), *([one["example"]] if "example" in one else ())]
        for fault in Draft202012Validator(one, format_checker=FormatChecker()).iter_errors(example)
    }
    assert wrong == {}


def test_no_example_is_of_what_there_is_not(app: Flask) -> None:
    names = {f"{schema}.{name}" for schema, name, _ in properties(read(app))}
    assert collected().keys() - names == set()
    assert {key for key in by_hand() if "." in key} - names == set()
    assert {key for key in by_hand() if "." not in key} - {name.partition(".")[2] for name in names} == set()
