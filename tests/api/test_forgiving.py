"""What is left of a body whose faults are taken out."""

from typing import Any

import marshmallow as ma
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.api.http.fields import Number, Text
from service.api.http.forgiving import Forgiving, without
from service.api.http.strict import Strict


class Inner(Strict):
    """A part that needs its name."""

    name = Text(required=True)
    value = Number()


class Outer(Forgiving):
    """A body of parts."""

    title = Text()
    parts = ma.fields.List(ma.fields.Nested(Inner), load_default=[])


def loaded(body: Any) -> tuple[list[dict[str, Any]], list[str]]:
    told = Outer().load(body)
    return told["parts"], [fault["field"] for fault in told["refused"]]


@pytest.mark.parametrize(
    ("parts", "left", "refused"),
    [
        ([{"name": "a", "value": 1}], [{"name": "a", "value": 1.0}], []),
        ([{"name": "a", "value": "x"}], [{"name": "a"}], ["parts.0.value"]),
        ([{"value": 1}, {"name": "b"}], [{"name": "b"}], ["parts.0.name"]),
        ([{"name": 1}, 5, {"name": "b"}, None], [{"name": "b"}], ["parts.0.name", "parts.1", "parts.3"]),
        ([{"name": "a", "more": 1}], [{"name": "a"}], ["parts.0.more"]),
        ([{"name": "a", "value": True, "more": []}], [{"name": "a"}], ["parts.0.more", "parts.0.value"]),
        ({}, [], ["parts"]),
    ],
)
def test_the_deepest_part_that_can_be_done_without_goes(
    parts: Any, left: list[Any], refused: list[str]
) -> None:
    told, faults = loaded({"parts": parts})
    assert told == left
    assert sorted(fault.removesuffix("._schema") for fault in faults) == refused


def test_what_is_no_object_is_refused_as_a_whole() -> None:
    with pytest.raises(ma.ValidationError):
        Outer().load([])


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text(max_size=4),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(st.sampled_from(["name", "value", "title", "parts"]), inner, max_size=4)
    ),
    max_leaves=12,
)


@given(JSON)
def test_any_object_loads_and_every_fault_is_told(body: Any) -> None:
    if not isinstance(body, dict):
        return
    told = Outer().load(body)
    assert bool(told["refused"]) == _has_faults(body)


def _has_faults(body: Any) -> bool:
    try:
        super(Forgiving, Outer()).load(body)
    except ma.ValidationError:
        return True
    return False


def test_nothing_is_left_of_a_body_whose_fault_is_its_own() -> None:
    assert without({"a": 1}, {"_schema": ["wrong"]}) is None
    assert without({"a": 1}, {}) is None
