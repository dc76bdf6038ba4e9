"""A mapping is a program of a kind: what somebody tries or keeps must not cost the service or the worker all."""

import json
from collections.abc import Callable
from typing import Any

import pytest
from flask.testing import FlaskClient

from ingest.wire.mapping import kept_mappings
from ingest.wire.reading import Refused
from ingest.wire.translator import Translator
from tests.support.http import assert_problem

API = "/api/v1"
DOUBLING = "|".join(["[@,@][]"] * 30)
COSTLY = (
    pytest.param({"each": DOUBLING}, id="a list doubled thirty times"),
    pytest.param({"device": "|".join(["join('', [@, @])"] * 20)}, id="a text doubled twenty times"),
    pytest.param({"device": "to_string([" * 25 + "d" + "])" * 25}, id="quotes of quotes"),
    pytest.param({"device": "join(sep, words)"}, id="one sender's text between all of another"),
    pytest.param({"device": "[" * 390}, id="brackets"),
)


def mapping(**change: object) -> dict[str, Any]:
    value = [{"quantity": "mass", "path": "kg", "unit": "kg"}]
    return {"name": "m", "topic": "x/{place}/{device}", "value": value, **change}


@pytest.mark.parametrize("change", COSTLY)
def test_an_expression_that_multiplies_what_it_reads_is_refused_before_it_reads_anything(
    client_as: Callable[..., FlaskClient], change: dict[str, Any]
) -> None:
    document = mapping(**change)
    trial = {"mapping": document, "topic": "x/shop/scale-1", "message": {"kg": 1.0}}
    assert_problem(client_as("technician").post(f"{API}/mapping-trials", json=trial), 422)
    assert_problem(client_as("supervisor").put(f"{API}/mappings/m", json={"mapping": document}), 422)
    found, faults = kept_mappings([{"name": "m", "version": 1, "mapping": document}], "heelmark")
    assert (found, len(faults)) == ([], 1)


@pytest.mark.parametrize("path", ["floor(to_number(kg))", "ceil(to_number(kg))", "sum([kg, to_number(kg)])"])
def test_a_function_that_fails_on_a_message_refuses_that_message_alone(
    client_as: Callable[..., FlaskClient], path: str
) -> None:
    document = mapping(value=[{"quantity": "mass", "path": path, "unit": "kg"}])
    trial = {"mapping": document, "topic": "x/shop/scale-1", "message": {"kg": "1e999"}}
    answer = client_as("technician").post(f"{API}/mapping-trials", json=trial)
    assert answer.status_code == 200, answer.text
    assert answer.get_json()["faults"]
    (kept,), _ = kept_mappings([{"name": "m", "version": 1, "mapping": document}], "heelmark")
    try:
        taken = Translator([kept]).read("x/shop/scale-1", json.dumps({"kg": "1e999"}).encode(), 1.7e9).taken
    except Refused as refused:
        assert refused.reason != "fault"
    else:
        assert taken.refusals and not taken.readings
