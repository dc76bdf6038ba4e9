"""The main job over HTTP with the real verdict engine: what a technician reads off gauge and thermometer."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient

from service.app import create_app
from service.operations import tokens
from service.settings import Settings
from service.store.database import Database
from service.wiring import wire
from tests.conftest import make_owner
from tests.support import databases


@pytest.fixture(scope="module")
def technician(tmp_path_factory: pytest.TempPathFactory) -> Iterator[FlaskClient]:
    """A technician of a service as it is run, but for its clock and port."""
    folder = tmp_path_factory.mktemp("main-job")
    settings = Settings(data=Path(folder), database_url="", secret_key="s" * 40)
    database = Database(databases.fresh_sqlite(folder))
    services = wire(settings, database=database)
    secret = tokens.create(services, make_owner(services), name="t", scope="technician").secret
    client = create_app(settings, services).test_client()
    client.environ_base["HTTP_AUTHORIZATION"] = f"Bearer {secret}"
    yield client
    database.dispose()


def ask(client: FlaskClient, psig: float, temp_f: float, thermometer_f: float, **rest: Any) -> dict[str, Any]:
    pair = {
        "temperature_f": temp_f,
        "gauge_pressure_psi": psig,
        "temperature_uncertainty_k": 0.1,
        "temperature_bias_uncertainty_k": thermometer_f / 1.8,
        "pressure_uncertainty_kpa": 2,
        "pressure_bias_uncertainty_kpa": 2,
    }
    answer = client.post("/api/v1/verdicts", json={"pairs": [pair], "elevation_m": 0, **rest})
    assert answer.status_code == 200, answer.get_data(as_text=True)
    told: dict[str, Any] = answer.get_json()
    return told


def probability(verdict: dict[str, Any], designation: str) -> float:
    found = [c["probability"] for c in verdict["identity"]["candidates"] if c["designation"] == designation]
    return found[0] if found else 0.0


# Computed from the equation of state: at 68 °F R-22 stands at 117.3 psig; 198.6 psig at 72 °F is R-454B's bubble line.
def test_a_cylinder_on_r_22s_curve_may_be_r_22(technician: FlaskClient) -> None:
    verdict = ask(technician, 117.3, 68, 0.5, claimed_designation="R-22")
    assert verdict["identity"]["candidates"][0]["designation"] == "R-22"
    assert verdict["cautions"]


def test_one_far_above_it_is_not(technician: FlaskClient) -> None:
    verdict = ask(technician, 198.6, 72, 0.5, claimed_designation="R-22")
    assert probability(verdict, "R-22") < 0.05


def test_nor_is_it_clean_r_410a_by_a_good_thermometer(technician: FlaskClient) -> None:
    good = ask(technician, 198.6, 72, 0.5, claimed_designation="R-410A")
    assert good["contamination"]["finding"] != "none-detected" or probability(good, "R-410A") < 0.5
    assert probability(good, "R-454B") > 0.0
    poor = ask(technician, 198.6, 72, 3.0, claimed_designation="R-410A")
    assert poor["identity"]["candidates"][0]["designation"] == "R-410A"
    assert poor["contamination"]["probabilities"]["none"] > good["contamination"]["probabilities"]["none"]


def test_a_flat_prior_and_every_term_are_to_be_had(technician: FlaskClient) -> None:
    answer = technician.post(
        "/api/v1/verdicts?explain=true&chart=true",
        json={"pairs": [{"temperature_c": 24.8, "absolute_pressure_kpa": 1044.0}], "prior": "flat"},
    )
    told = answer.get_json()
    assert told["explain"]["prior_kind"] == "flat"
    assert told["chart"]["curves"]
    assert told["chart"]["pairs"]


@pytest.mark.parametrize(
    ("temperature_c", "absolute_pressure_kpa"),
    [(-100, 0.001), (200, 20_000), (25, 1e-6), (-100, 20_000), (200, 0.001), (25, 101.325)],
)
def test_hostile_numbers_get_a_refusal_or_no_confident_answer(
    technician: FlaskClient, temperature_c: float, absolute_pressure_kpa: float
) -> None:
    pair = {"temperature_c": temperature_c, "absolute_pressure_kpa": absolute_pressure_kpa}
    answer = technician.post("/api/v1/verdicts", json={"pairs": [pair, {**pair, "temperature_c": 40}]})
    assert answer.status_code in {200, 422}
    if answer.status_code == 200:
        assert answer.get_json()["identity"]["finding"] != "identified"


def test_a_typed_pair_is_judged_and_drawn(technician: FlaskClient) -> None:
    technician.post(
        "/api/v1/cylinders", json={"serial": "HM-1", "place": "shop", "claimed_designation": "R-134a"}
    )
    # R-134a at 25 °C is 665 kPa absolute (reference equation, rounded).
    body = {
        "cylinder": "HM-1",
        "temperature_c": 25.0,
        "absolute_pressure_kpa": 665.4,
        "temperature_uncertainty_k": 0.1,
    }
    told = technician.post("/api/v1/equilibrium-pairs", json=body).get_json()
    assert told["verdict"]["identity"]["candidates"][0]["designation"] == "R-134a"
    chart = technician.get("/api/v1/cylinders/HM-1/chart").get_json()["chart"]
    assert any(curve["designation"] == "R-134a" for curve in chart["curves"])
