"""What else was seen than pressure and temperature, over HTTP."""

from typing import Any

import pytest
from flask.testing import FlaskClient

from service.operations.support.context import Actor, Services
from service.operations.support.lookup import by_serial
from service.store import cylinders as stored
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


def test_a_level_becomes_a_fraction_by_the_cylinders_size(technician: FlaskClient, judge: Any) -> None:
    body = {
        "pairs": [PAIR],
        "cylinder": {"water_capacity_kg": 21.6, "net_mass_kg": 8.0, "provenance": "maker"},
        "observations": {"liquid_level_height_in": 8.0, "cylinder_diameter_in": 12.0},
    }
    assert technician.post("/api/v1/verdicts", json=body).status_code == 200
    told = judge.asked[-1][1]
    assert told.provenance == "maker"
    assert 0.4 < told.observations.liquid.fraction < 0.6
    del body["cylinder"]
    (error,) = assert_problem(technician.post("/api/v1/verdicts", json=body), 422, "validation")["errors"]
    assert error["field"] == "observations.liquid_level_height_m"


def observe(client: FlaskClient, **seen: Any) -> Any:
    return client.post("/api/v1/observations", json={"cylinder": "EX-1", **seen})


@pytest.fixture
def read_once(technician: FlaskClient) -> FlaskClient:
    new = {"serial": "EX-1", "water_capacity_kg": 21.6, "claimed_designation": "R-22"}
    assert technician.post("/api/v1/cylinders", json=new).status_code == 201
    pair = {"cylinder": "EX-1", "temperature_c": 24.0, "absolute_pressure_kpa": 1015.0}
    assert technician.post("/api/v1/equilibrium-pairs", json=pair).status_code == 201
    return technician


def test_what_was_seen_of_a_cylinder_is_kept_and_judged_with_its_readings(
    read_once: FlaskClient, judge: Any
) -> None:
    assert judge.asked[-1][1].provenance == "unknown"
    before = len(judge.asked)
    entry = observe(read_once, combustible_gas_found=False, provenance="maker")
    assert entry.status_code == 201
    assert entry.get_json()["details"]["combustible_gas_found"] is False
    assert len(judge.asked) > before
    told = judge.asked[-1][1]
    assert told.observations.combustible_gas is False
    assert told.provenance == "maker"


def test_the_newest_of_each_speaks_and_the_others_stay(read_once: FlaskClient, judge: Any) -> None:
    parts = [{"designation": "r22", "mass_fraction": 1.0}]
    observe(read_once, combustible_gas_found=True)
    observe(read_once, analyser={"parts": parts}, liquid_level_fraction=0.4)
    kept = observe(read_once, combustible_gas_found=False).get_json()
    assert kept["kind"] == "observation"
    told = judge.asked[-1][1].observations
    assert told.combustible_gas is False
    assert [dict(one.mass_fractions) for one in told.compositions] == [{"R-22": 1.0}]
    assert told.liquid.fraction == 0.4


@pytest.mark.parametrize(
    ("seen", "field"),
    [
        ({}, "observation"),
        ({"liquid_level_height_m": 2.5}, "liquid_level_height_m"),
        ({"laboratory": {"parts": [{"designation": "R-9999", "mass_fraction": 1.0}]}}, "laboratory.parts"),
        ({"provenance": "a friend"}, "provenance"),
    ],
)
def test_an_observation_that_makes_no_sense_is_refused(
    read_once: FlaskClient, seen: dict[str, Any], field: str
) -> None:
    (error,) = assert_problem(observe(read_once, **seen), 422, "validation")["errors"]
    assert error["field"] == field


def test_new_contents_are_judged_without_what_was_seen_of_the_old(
    read_once: FlaskClient, services: Services, actor: Actor, judge: Any
) -> None:
    observe(read_once, combustible_gas_found=True, provenance="maker")
    with services.database.writing(actor.organisation_id) as work:
        cylinder = by_serial(work, "EX-1", lock=True)
        stored.open_epoch(work, cylinder, at=services.now(), cause="filled", contents=None)
    pair = {"cylinder": "EX-1", "temperature_c": 24.0, "absolute_pressure_kpa": 1015.0}
    assert read_once.post("/api/v1/equilibrium-pairs", json=pair).status_code == 201
    assert judge.asked[-1][1].observations.combustible_gas is None
    assert judge.asked[-1][1].provenance == "unknown"
