"""The catalogue and saturation over HTTP."""

import pytest
from flask.testing import FlaskClient

from tests.support.http import assert_problem

BASE = "/api/v1/refrigerants"


def test_the_catalogue_lists_and_tells_its_sources(technician: FlaskClient) -> None:
    items = technician.get(BASE).get_json()["items"]
    assert len(items) > 150
    one = technician.get(f"{BASE}/r410a").get_json()
    assert one["designation"] == "R-410A"
    assert {part["name"]: part["mass_fraction"] for part in one["components"]} == {"R-32": 0.5, "R-125": 0.5}
    assert one["safety_class"]["mark"] in {"read", "memory", "computed", "inferred"}
    assert_problem(technician.get(f"{BASE}/R-9999"), 404, "not-found")


# Common practice, no source: R-22 at 68 °F stands at 117 psig, R-410A at 70 °F at 201 psig.
@pytest.mark.parametrize(("designation", "psig", "temp_f"), [("R-22", 117.3, 68.0), ("R-410A", 201.5, 70.0)])
def test_the_shop_floors_figures(
    technician: FlaskClient, designation: str, psig: float, temp_f: float
) -> None:
    body = technician.get(f"{BASE}/{designation}/saturation?gauge_pressure_psi={psig}").get_json()
    assert body["bubble_temperature_f"] == pytest.approx(temp_f, abs=0.3)


def test_saturation_goes_both_ways(technician: FlaskClient) -> None:
    there = technician.get(f"{BASE}/R-407C/saturation?temperature_c=20").get_json()
    assert there["bubble_pressure_kpa"] > there["dew_pressure_kpa"]
    assert there["bubble_pressure_psi"] == pytest.approx(there["bubble_pressure_kpa"] / 6.894757293)
    pressure = there["bubble_pressure_kpa"]
    back = technician.get(f"{BASE}/R-407C/saturation?absolute_pressure_kpa={pressure}").get_json()
    assert back["bubble_temperature_c"] == pytest.approx(20.0, abs=1e-4)
    assert 0 < back["relative_uncertainty"] < 0.2


def test_gauge_pressure_is_against_the_elevation(technician: FlaskClient) -> None:
    path = f"{BASE}/R-134a/saturation?gauge_pressure_psi=82"
    sea = technician.get(path).get_json()["bubble_temperature_c"]
    denver = technician.get(f"{path}&elevation_m=1609").get_json()["bubble_temperature_c"]
    # reference/standards.md: 17.9 kPa is worth about 0.9 K on R-134a near 25 °C.
    assert sea - denver == pytest.approx(0.9, abs=0.1)


@pytest.mark.parametrize(
    "query", ["", "temperature_c=20&temperature_f=68", "temperature_c=x", "temperature_c=nan"]
)
def test_a_bad_question_is_refused(technician: FlaskClient, query: str) -> None:
    assert_problem(technician.get(f"{BASE}/R-22/saturation?{query}"), 422, "validation")


def test_outside_the_curve_is_told_with_its_range(technician: FlaskClient) -> None:
    body = assert_problem(technician.get(f"{BASE}/R-32/saturation?temperature_c=150"), 422, "out-of-range")
    assert "R-32" in body["detail"]
