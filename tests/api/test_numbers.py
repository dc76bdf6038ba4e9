"""Numbers are numbers, and a quantity is given in one unit."""

import json
import math
from typing import Any

import pytest
from flask.testing import FlaskClient

from tests.support.http import assert_problem

PAIR = {"temperature_c": 24.8, "absolute_pressure_kpa": 1044.0}


def ask(client: FlaskClient, pair: dict[str, Any], **rest: Any) -> Any:
    return client.post("/api/v1/verdicts", json={"pairs": [pair], **rest})


@pytest.mark.parametrize(
    "text", ["NaN", "Infinity", "-Infinity", "1e999", '"5"', "true", "[1]", "{}", "null", "1" * 400]
)
def test_what_is_not_a_finite_number_is_refused(technician: FlaskClient, text: str) -> None:
    body = f'{{"pairs": [{{"temperature_c": {text}, "absolute_pressure_kpa": 1044.0}}]}}'
    answer = technician.post("/api/v1/verdicts", data=body, content_type="application/json")
    body_told = assert_problem(answer, 422, "validation")
    assert body_told["errors"][0]["field"] == "pairs.0.temperature_c"
    json.dumps(body_told, allow_nan=False)


@pytest.mark.parametrize(
    "both",
    [
        {"temperature_f": 68.0},
        {"gauge_pressure_psi": 117.0},
        {"gauge_pressure_kpa": 900.0},
    ],
)
def test_two_units_of_one_quantity_are_refused(technician: FlaskClient, both: dict[str, float]) -> None:
    (error,) = assert_problem(ask(technician, {**PAIR, **both}), 422, "validation")["errors"]
    assert error["expected"].startswith("only one of")
    assert set(error["value"]) == {*both, *(set(PAIR) & set(error["value"]))}


@pytest.mark.parametrize("left_out", ["temperature_c", "absolute_pressure_kpa"])
def test_one_unit_has_to_be_there(technician: FlaskClient, left_out: str) -> None:
    pair = {name: value for name, value in PAIR.items() if name != left_out}
    (error,) = assert_problem(ask(technician, pair), 422, "validation")["errors"]
    assert error["expected"].startswith("one of")


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("temperature_c", -273.16),
        ("temperature_c", 1000),
        ("absolute_pressure_kpa", 0),
        ("absolute_pressure_kpa", -1),
        ("temperature_uncertainty_k", 0),
        ("pressure_bias_uncertainty_kpa", -1),
    ],
)
def test_what_cannot_be_is_refused_with_its_range(technician: FlaskClient, field: str, value: float) -> None:
    (error,) = assert_problem(ask(technician, {**PAIR, field: value}), 422, "validation")["errors"]
    assert (error["field"], error["value"]) == (f"pairs.0.{field}", value)
    assert "at least" in error["expected"] or "above" in error["expected"]


def test_misspelt_fields_and_parameters_are_refused(technician: FlaskClient) -> None:
    (error,) = assert_problem(ask(technician, {**PAIR, "temprature_c": 1}), 422)["errors"]
    assert error["field"] == "pairs.0.temprature_c"
    assert "known are" in error["expected"] and "temperature_c" in error["expected"]
    assert_problem(technician.get("/api/v1/cylinders?colour=blue"), 422)
    assert_problem(technician.get("/api/v1/cylinders?limit=ten"), 422)
    assert_problem(technician.get("/api/v1/cylinders?limit=1000000"), 422)


def test_either_unit_says_the_same(technician: FlaskClient, judge: Any) -> None:
    # 68 °F and 117 psig at sea level, absolute: 20 °C, 908.01 kPa.
    ask(technician, {"temperature_f": 68.0, "gauge_pressure_psi": 117.0, "elevation_m": 0})
    ask(technician, {"temperature_c": 20.0, "gauge_pressure_kpa": 806.6866033})
    ask(technician, {"temperature_c": 20.0, "absolute_pressure_kpa": 908.0116033})
    first, _, third = (pairs[0] for pairs, _ in judge.asked)
    assert first.temp_k == pytest.approx(third.temp_k, abs=1e-9)
    assert first.pressure_pa == pytest.approx(third.pressure_pa, abs=0.01)


def test_elevation_and_barometer_of_the_question_serve_every_pair(
    technician: FlaskClient, judge: Any
) -> None:
    gauge = {"temperature_c": 25.0, "gauge_pressure_kpa": 900.0}
    ask(technician, gauge, elevation_m=1609)
    ask(technician, {**gauge, "elevation_m": 0}, elevation_m=1609)
    ask(technician, gauge, elevation_m=1609, ambient_pressure_kpa=84.0)
    ask(technician, gauge)
    pressures = [pairs[0].pressure_pa / 1000 for pairs, _ in judge.asked]
    assert pressures == pytest.approx([900 + 83.44, 900 + 101.325, 900 + 84.0, 900 + 99.0], abs=0.05)
    unsure = [pairs[0].atmosphere_bias_pa for pairs, _ in judge.asked]
    assert unsure == [1000.0, 1000.0, 100.0, 5000.0]


def test_a_gauge_below_the_local_vacuum_is_refused(technician: FlaskClient) -> None:
    answer = ask(technician, {"temperature_c": 25.0, "gauge_pressure_kpa": -100.0}, elevation_m=1609)
    assert_problem(answer, 422, "validation")


def test_what_is_not_said_comes_from_the_settings(technician: FlaskClient, judge: Any) -> None:
    ask(
        technician, PAIR, cylinder={"water_capacity_lb": 47.7, "net_mass_lb": 17.6}, claimed_designation="r22"
    )
    (pair,), facts = judge.asked[0]
    assert (pair.temp_noise_k, pair.pressure_noise_pa) == (0.3, 5000.0)
    assert (pair.temp_bias_k, pair.pressure_bias_pa) == (pytest.approx(1.5, abs=0.02), 3000.0)
    assert facts.claimed_designation == "R-22"
    assert facts.net_mass_kg == pytest.approx(7.983, abs=1e-3)


def test_nothing_on_the_scale_is_a_weight(technician: FlaskClient, judge: Any) -> None:
    ask(technician, PAIR, cylinder={"water_capacity_lb": 47.7, "net_mass_lb": 0})
    assert judge.asked[-1][1].net_mass_kg == 0.0


def test_a_weight_from_before_anything_came_in_is_none_of_what_is_read_later(
    technician: FlaskClient, judge: Any
) -> None:
    new = {"serial": "EX-1", "water_capacity_kg": 21.6, "tare_kg": 12.7, "gross_mass_kg": 12.7}
    assert technician.post("/api/v1/cylinders", json=new).status_code == 201
    pair = {"cylinder": "EX-1", **PAIR}
    assert technician.post("/api/v1/equilibrium-pairs", json=pair).status_code == 201
    assert judge.asked[-1][1].net_mass_kg is None


def test_how_a_temperature_was_read_decides_how_far_it_is_believed(
    technician: FlaskClient, judge: Any
) -> None:
    best = {"in_sun": False, "at_rest_minutes": 600, "clamp_insulated": True}
    for conditions in (best, {**best, "in_sun": True}):
        assert ask(technician, {**PAIR, "conditions": conditions}).status_code == 200
    assert ask(technician, {**PAIR, "temperature_bias_uncertainty_k": 0.1}).status_code == 200
    found = [pairs[0].temp_bias_k for pairs, _ in judge.asked]
    assert found == pytest.approx([0.3, math.hypot(0.3, 2.5), 0.1], abs=1e-3)


def test_conditions_that_cannot_be_are_refused(technician: FlaskClient) -> None:
    answer = ask(technician, {**PAIR, "conditions": {"at_rest_minutes": -1}})
    (error,) = assert_problem(answer, 422, "validation")["errors"]
    assert error["field"].endswith("conditions.at_rest_minutes")


def test_an_unknown_label_is_refused(technician: FlaskClient) -> None:
    (error,) = assert_problem(ask(technician, PAIR, claimed_designation="R-9999"), 422)["errors"]
    assert error["field"] == "claimed_designation"
