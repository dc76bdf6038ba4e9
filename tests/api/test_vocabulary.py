"""The document says of every property and every parameter what it is, and closed vocabularies are listed."""

import sys
from collections.abc import Iterator
from enum import StrEnum
from importlib.resources import files
from typing import Any, Literal, get_args, get_origin

import yaml
from flask import Flask
from jsonschema import Draft202012Validator, FormatChecker

from service.api.http.vocabulary import UNITS, by_hand, collected, meaning, sentences
from service.board import phrases
from service.codes import AlarmCode, ContaminationFinding, DispositionCode, SettlingState
from service.cylinders.judgement.causes import Kind


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


HELD_ELSEWHERE = {
    "/problems/": "problem types have a register of their own, service/problem_types.py",
    "heelmark.": "types of event: tests/deploy/test_asyncapi.py",
    "change": "what each type of event reports: tests/deploy/test_asyncapi.py",
    "/n": "quantities of readings are the worker's: tests/deploy/test_asyncapi.py",
    "/u": "units of readings are the worker's: tests/deploy/test_asyncapi.py",
    "rule_book": "the rule books have a register of their own, service/cylinders/books",
}
"""What a published vocabulary holds, or its place ends on, and why no enumeration is it."""
PARTS = {
    frozenset({"flammable", "toxic"}): "of Hazard: only these forbid while they are not excluded",
    frozenset({"binary", "structured"}): "of ContentMode: batches go by an option of their own",
    frozenset({"label", "4x6in", "letter", "a4"}): "sizes of paper, of one resource",
    frozenset({"letter", "a4"}): "of them, those of a sheet",
    frozenset({"pdf", "csv", "json"}): "formats of an export, of one resource",
}
"""Published choices that are part of a vocabulary, or stand in one place alone."""


def published(node: Any, where: str) -> Iterator[tuple[str, frozenset[str]]]:
    """Where a document lists strings, and which."""
    if isinstance(node, dict):
        told = node.get("enum")
        if isinstance(told, list) and all(isinstance(one, str | None) for one in told):
            yield where, frozenset(one for one in told if one is not None)
    inside = node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ()
    for key, one in inside:
        yield from published(one, f"{where}/{key}")


def defined() -> list[frozenset[str]]:
    """Every enumeration of the service, and every alias of literals."""
    loaded = [one for name, one in sys.modules.items() if name.startswith("service.")]
    members = [value for one in loaded for value in vars(one).values()]
    enums = {one for one in members if isinstance(one, type) and issubclass(one, StrEnum) and len(one)}
    aliases = [get_args(one) for one in members if get_origin(one) is Literal]
    return [*(frozenset(map(str, one)) for one in enums), *map(frozenset, aliases)]


def test_every_published_vocabulary_is_an_enumeration(app: Flask) -> None:
    asyncapi = yaml.safe_load((files("service.api.http") / "data" / "asyncapi.yaml").read_text())
    told = [*published(read(app), "openapi"), *published(asyncapi, "asyncapi")]
    assert len(told) > 80, "the walk found the vocabularies"
    known = [*defined(), frozenset(map(str, (*Kind, *AlarmCode)))]
    unknown = {
        where: sorted(values)
        for where, values in told
        if values not in known
        and values not in PARTS
        and not any(
            where.endswith(end) or any(one.startswith(end) for one in values) for end in HELD_ELSEWHERE
        )
    }
    assert unknown == {}


def test_a_word_more_or_less_would_be_seen() -> None:
    (where, values), *_ = published({"a": {"enum": ["keep", "hold", None]}}, "x")
    assert (where, values) == ("x/a", frozenset({"keep", "hold"}))
    assert values not in defined() and frozenset(map(str, DispositionCode)) in defined()


def test_every_code_has_its_words_on_the_board() -> None:
    assert phrases.SETTLING.keys() == set(SettlingState)
    assert phrases.CONTAMINATION.keys() == set(ContaminationFinding)
    assert phrases.DISPOSITION.keys() == set(DispositionCode)
    alone = {
        AlarmCode.NOT_UNDERSTOOD,
        AlarmCode.CERTIFICATE_ENDS,
        AlarmCode.BACKUP_FAILED,
        AlarmCode.WEBHOOK_DISABLED,
    }
    assert phrases.ALARMS.keys() == {*map(str, Kind), *map(str, AlarmCode)} - alone, (
        "those say it in their text"
    )
