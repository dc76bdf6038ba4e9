"""Every type of problem that the service can give is listed, answers at its address, and is documented."""

import ast
from pathlib import Path
from typing import Any

import pytest
from flask import Flask

import service
from service.api.http import problems
from service.operations.support import errors
from service.problem_types import PROBLEM_TYPES, ProblemType

EVERY = pytest.mark.parametrize("one", PROBLEM_TYPES.values(), ids=PROBLEM_TYPES)
SOURCES = sorted(Path(service.__file__).parent.rglob("*.py"))


def named() -> set[str]:
    """Every slug that a call of ``problem`` names, read from the code."""
    found = set()
    for path in SOURCES:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "problem":
                for given in node.keywords:
                    if given.arg == "slug" and isinstance(given.value, ast.Constant):
                        found.add(given.value.value)
    return found


def test_the_list_has_every_type_that_can_be_given_and_no_other() -> None:
    by_code = named()
    assert {"internal", "too-many-streams", "streams-full", "refused"} <= by_code
    by_table = {slug for _, slug in problems.REFUSALS.values()} | set(problems.STATUS_SLUGS.values())
    assert by_code | by_table | {"error"} == PROBLEM_TYPES.keys()


def test_every_refusal_of_a_use_case_has_a_type() -> None:
    kinds = errors.OperationError.__subclasses__()
    assert len(kinds) >= 7
    assert [kind for kind in kinds if kind not in problems.REFUSALS] == []


def test_each_type_comes_with_the_status_that_it_tells() -> None:
    given = [(slug, status) for status, slug in problems.STATUS_SLUGS.items()]
    given += [(slug, status) for status, slug in problems.REFUSALS.values()]
    assert [pair for pair in given if pair[1] not in PROBLEM_TYPES[pair[0]].statuses] == []


@EVERY
def test_it_answers_programs_in_json(app: Flask, one: ProblemType) -> None:
    answer = app.test_client().get(one.uri, headers={"Accept": "application/json"})
    assert (answer.status_code, answer.mimetype) == (200, "application/json")
    told = answer.get_json()
    assert (told["type"], told["meaning"], told["statuses"]) == (one.uri, one.meaning, list(one.statuses))
    assert "Accept" in answer.headers["Vary"].split(", ")


@EVERY
def test_it_answers_people_with_a_page(app: Flask, one: ProblemType) -> None:
    answer = app.test_client().get(one.uri, headers={"Accept": "text/html"})
    assert (answer.status_code, answer.mimetype) == (200, "text/html")
    assert one.slug in answer.text
    assert one.remedy.split(";")[0].replace("'", "&#39;") in answer.text
    assert "Set-Cookie" not in answer.headers


def test_the_list_of_types_answers_both(app: Flask) -> None:
    listed = app.test_client().get("/problems").get_json()
    assert [one["slug"] for one in listed] == list(PROBLEM_TYPES)
    page = app.test_client().get("/problems", headers={"Accept": "text/html"}).text
    assert all(f'id="{slug}"' in page for slug in PROBLEM_TYPES)


def test_a_type_that_there_is_not_is_a_problem_itself(app: Flask) -> None:
    answer = app.test_client().get("/problems/no-such", headers={"Accept": "application/json"})
    assert answer.status_code == 404
    assert answer.get_json()["type"] == "/problems/not-found"


def test_the_document_lists_the_types(app: Flask) -> None:
    document: dict[str, Any] = app.test_client().get("/api/v1/openapi.json").get_json()
    told = document["components"]["schemas"]["Problem"]["properties"]["type"]["enum"]
    assert told == [one.uri for one in PROBLEM_TYPES.values()]
