"""What else was seen than pressure and temperature, over HTTP."""

from typing import Any

import pytest
from flask.testing import FlaskClient

from tests.support.http import assert_problem

PAIR = {"temperature_c": 24.0, "absolute_pressure_kpa": 646.0}


def ask(client: FlaskClient, seen: dict[str, Any]) -> Any:
    return client.post(
        "/api/v1/verdicts", json={"pairs": [PAIR], "claimed_designation": "R-134a", "observations": seen}
    )


def test_what_was_seen_reaches_the_judge_by_the_catalogues_names(technician: FlaskClient, judge: Any) -> None:
    parts = [{"designation": "r134a", "mass_fraction": 0.6}, {"designation": "R-22", "mass_fraction": 0.3}]
    seen = {"combustible_gas_found": False, "analyser": {"parts": parts}, "laboratory": {"parts": parts}}
    assert ask(technician, seen).status_code == 200
    told = judge.asked[-1][1].observations
    assert told.combustible_gas is False
    assert [dict(one.mass_fractions) for one in told.compositions] == [{"R-134a": 0.6, "R-22": 0.3}] * 2
    analyser, laboratory = told.compositions
    assert laboratory.trust > analyser.trust
    assert laboratory.uncertainty < analyser.uncertainty


def test_a_stated_uncertainty_beats_the_usual_one(technician: FlaskClient, judge: Any) -> None:
    parts = [{"designation": "R-134a", "mass_fraction": 1.0}]
    ask(technician, {"analyser": {"parts": parts, "mass_fraction_uncertainty": 0.05}})
    assert judge.asked[-1][1].observations.compositions[0].uncertainty == 0.05


@pytest.mark.parametrize(
    ("seen", "field"),
    [
        ({"combustible_gas_found": "maybe"}, "observations.combustible_gas_found"),
        ({"analyser": {"parts": []}}, "observations.analyser.parts"),
        ({"analyser": {"parts": [{"designation": "R-22", "mass_fraction": 1.5}]}}, "mass_fraction"),
        (
            {"analyser": {"parts": [{"designation": "R-22", "mass_fraction": 0.1}]}},
            "observations.analyser.parts",
        ),
        ({"odour": "sweet"}, "observations.odour"),
    ],
)
def test_what_makes_no_sense_is_refused(technician: FlaskClient, seen: dict[str, Any], field: str) -> None:
    (error,) = assert_problem(ask(technician, seen), 422, "validation")["errors"]
    assert field in error["field"]


def test_a_name_that_is_in_no_catalogue_is_refused(technician: FlaskClient) -> None:
    seen = {"laboratory": {"parts": [{"designation": "R-9999", "mass_fraction": 1.0}]}}
    (error,) = assert_problem(ask(technician, seen), 422, "validation")["errors"]
    assert (error["field"], error["value"]) == ("observations.laboratory.parts", "R-9999")
