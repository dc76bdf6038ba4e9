"""Results in, scores out, over HTTP."""

from collections.abc import Callable

import pytest
from flask.testing import FlaskClient

from service.operations import cylinders, pairs
from service.operations.pairs import NewPair
from service.operations.support.atmosphere import PressureReading
from service.operations.support.context import Actor, Services
from tests.support.http import assert_problem


@pytest.fixture
def shop(services: Services, actor: Actor, client_as: Callable[..., FlaskClient]) -> FlaskClient:
    """Three cylinders, each read once."""
    for number in range(3):
        cylinders.register(services, actor, f"HM-{number}", {"place": "shop"})
        new = NewPair(serial=f"HM-{number}", temp_k=298.0, pressure=PressureReading(absolute_pa=1_044_000.0))
        pairs.record(services, actor, new)
    return client_as("technician")


def result(which: int, **values: object) -> dict[str, object]:
    parts = [{"designation": "R-22", "mass_fraction": 1.0}]
    return {"cylinder": f"HM-{which}", "kind": "laboratory", "composition": {"parts": parts}, **values}


def test_a_result_is_kept_with_the_score_of_the_verdict_before(shop: FlaskClient) -> None:
    answer = shop.post("/api/v1/analyses", json=result(0, moisture_ppm=12, laboratory="L", number="7"))
    told = answer.get_json()
    assert answer.status_code == 201, told
    assert (told["designation"], told["contamination"], told["moisture_ppm"]) == ("R-22", "none", 12)
    assert told["composition"] == [{"designation": "R-22", "mass_fraction": 1.0}]
    assert (told["score"]["probability"], told["score"]["right_first"]) == (0.97, True)
    (listed,) = shop.get("/api/v1/analyses?cylinder=HM-0").get_json()["items"]
    assert listed == told
    assert shop.get("/api/v1/analyses?cylinder=HM-1").get_json()["items"] == []


def test_scores_tell_how_little_three_say(shop: FlaskClient) -> None:
    for number, name in enumerate(("R-22", "R-22", "R-12")):
        parts = [{"designation": name, "mass_fraction": 1.0}]
        assert (
            shop.post("/api/v1/analyses", json=result(number, composition={"parts": parts})).status_code
            == 201
        )
    told = shop.get("/api/v1/scores").get_json()
    right = told["overall"]["right_first"]
    assert (right["count"], right["cases"]) == (2, 3)
    assert right["low"] < 0.25
    assert right["high"] > 0.9
    assert right["needed"] > 300
    assert told["overall"]["stated_first"] == pytest.approx(0.97)
    assert [(one["name"], one["scores"]["cases"]) for one in told["by_refrigerant"]] == [
        ("R-22", 2),
        ("R-12", 1),
    ]
    (bin_,) = told["reliability"]
    assert (bin_["low"], bin_["right"]["count"]) == (0.97, 2)
    assert shop.get("/api/v1/scores?kind=opened").get_json()["overall"]["cases"] == 0


def test_nothing_is_said_where_nothing_turned_out(shop: FlaskClient) -> None:
    told = shop.get("/api/v1/scores").get_json()
    assert told["overall"]["right_first"]["share"] is None
    assert told["overall"]["log_score"] == {"mean": None, "standard_error": None}
    assert told["reliability"] == []
    assert told["prevalence"][0]["by_table"] == pytest.approx(told["prevalence"][0]["share"])


def test_what_establishes_nothing_is_refused_by_its_field(shop: FlaskClient) -> None:
    answer = shop.post("/api/v1/analyses", json={"cylinder": "HM-0", "kind": "laboratory"})
    assert_problem(answer, 422)
    assert answer.get_json()["errors"][0]["field"] == "designation"
    assert_problem(shop.get("/api/v1/scores?kind=guess"), 422)
