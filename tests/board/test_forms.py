import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.board.forms import Form


def test_a_decimal_comma_is_a_decimal_point() -> None:
    assert Form({"t": " 24,8 "}).number("t", "Temperature") == 24.8


@pytest.mark.parametrize("typed", ["warm", "nan", "inf", "1e999", "1,2,3", "0x10", ""])
def test_what_is_no_number_is_named(typed: str) -> None:
    form = Form({"t": typed})
    assert form.number("t", "Temperature") is None
    assert form.errors["t"].startswith("Temperature: ")
    assert not form.ok


def test_bounds_are_told() -> None:
    form = Form({"m": "-2"})
    assert form.number("m", "Weight", above=0.0, at_most=5000.0) is None
    assert form.errors["m"] == "Weight: -2 lies outside of 0 to 5000"


def test_optional_and_empty_is_fine() -> None:
    form = Form({})
    assert form.number("m", "Weight", required=False) is None
    assert form.text("o", "Owner", required=False) == ""
    assert form.ok


def test_a_choice_that_was_not_offered_is_refused() -> None:
    form = Form({"valve": "purple"})
    form.choice("valve", "Valve", ("vapour", "liquid"))
    assert "'purple'" in form.errors["valve"]


@given(st.text(max_size=20))
def test_nothing_typed_breaks_a_number(typed: str) -> None:
    value = Form({"x": typed}).number("x", "X", required=False)
    assert value is None or math.isfinite(value)
