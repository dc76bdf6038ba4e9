"""One cylinder from delivery to the supply house, with the real verdict engine, over REST."""

import io
from collections.abc import Callable
from typing import Any

import pypdf
import pytest
from flask.testing import FlaskClient

from service.app import create_app
from service.operations import tokens
from service.operations.support.context import Services
from service.settings import Settings
from service.store.artefacts import load_curves
from service.store.database import Database
from service.wiring import verdict_engine, wire
from tests.conftest import make_owner
from tests.support.clock import Clock

Call = Callable[..., Any]
AIR_PA = 120e3


@pytest.fixture
def services(settings: Settings, database: Database, clock: Clock) -> Services:
    return wire(settings, database=database, judge=verdict_engine("north-america"), now=clock)


@pytest.fixture
def people(settings: Settings, services: Services) -> dict[str, FlaskClient]:
    """A technician and a supervisor of one shop."""
    owner, app = make_owner(services), create_app(settings, services)
    clients = {}
    for scope in ("technician", "supervisor"):
        clients[scope] = app.test_client()
        secret = tokens.create(services, owner, name=scope, scope=scope).secret
        clients[scope].environ_base["HTTP_AUTHORIZATION"] = f"Bearer {secret}"
    return clients


def call(client: FlaskClient, method: str, path: str, status: int, **body: Any) -> Any:
    answer = client.open(f"/api/v1/{path}", method=method, json=body or None)
    assert answer.status_code == status, answer.get_data(as_text=True)
    return answer.get_json()


def measure(client: FlaskClient, temp_k: float, air_pa: float = 0.0) -> Any:
    """A settled pair of R-22, with air when told, by good instruments."""
    pressure = float(load_curves().bubble_pressure_pa("R-22", temp_k)) + air_pa * temp_k / 298.15
    return call(
        client, "POST", "equilibrium-pairs", 201, cylinder="HM-1", temperature_c=temp_k - 273.15,
        absolute_pressure_kpa=pressure / 1e3, temperature_uncertainty_k=0.15, temperature_bias_uncertainty_k=0.2,
        pressure_uncertainty_kpa=2.0, pressure_bias_uncertainty_kpa=2.0,
    )["verdict"]  # fmt: skip


JOB = {
    "owner": "Example Foods", "location": "12 Pier Road, roof", "appliance": "walk-in cooler", "circuit": "A",
    "charge_lb": 12.0,
}  # fmt: skip
WHO = {"technician": "A. Field", "certification_number": "CERT-0001"}


def deliver(technician: FlaskClient) -> None:
    """Delivered evacuated, inspected, its vacuum read."""
    call(
        technician, "POST", "cylinders", 201, serial="HM-1", place="shop", marks="DOT-4BA400", water_capacity_lb=47.7,
        tare_lb=27.4, requalification_stamp="6 A123 24", owner="Example Cooling",
    )  # fmt: skip
    refused = call(
        technician, "POST", "transfers", 409, cylinder="HM-1", direction="in", refrigerant="R-22", mass_lb=9
    )
    assert {reason["code"] for reason in refused["reasons"]} >= {"contents-unknown"}
    call(technician, "POST", "evacuations", 201, cylinder="HM-1", vacuum_micron=450)
    call(
        technician, "POST", "inspections", 201, cylinder="HM-1", passed=True, travelled="upright and secured"
    )


def first_job(technician: FlaskClient, clock: Clock) -> None:
    """The first job: the standing equipment agrees with its nameplate."""
    clock.forward(hours=1)
    standing_k = 297.0
    pressure = float(load_curves().bubble_pressure_pa("R-22", standing_k))
    first = call(
        technician, "POST", "transfers", 201, cylinder="HM-1", direction="in", refrigerant="R-22", mass_lb=9.0,
        equipment=JOB, standing={"temperature_c": standing_k - 273.15, "absolute_pressure_kpa": pressure / 1e3}, **WHO,
    )  # fmt: skip
    assert "R-22" in [c["designation"] for c in first["standing"]["verdict"]["identity"]["candidates"]]
    assert first["overridden"] is None


def second_job(technician: FlaskClient, clock: Clock) -> None:
    """The second job, weighed before and after."""
    clock.forward(days=2)
    call(technician, "POST", "inspections", 201, cylinder="HM-1", passed=True)
    call(
        technician, "POST", "transfers", 201, cylinder="HM-1", direction="in", refrigerant="R-22",
        gross_before_lb=36.4, gross_after_lb=44.4, equipment={**JOB, "circuit": "B"}, **WHO,
    )  # fmt: skip


def wrong_refrigerant(technician: FlaskClient) -> None:
    """The wrong refrigerant, asked first and tried then: the same answer, and nothing changes."""
    check = call(technician, "POST", "cylinders/HM-1/checks", 200, refrigerant="R-410A", mass_lb=5.0)
    assert [reason["code"] for reason in check["reasons"]] == ["one-refrigerant"] and not check["allowed"]
    refused = call(
        technician, "POST", "transfers", 409, cylinder="HM-1", direction="in", refrigerant="R-410A", mass_lb=5
    )
    assert [reason["code"] for reason in refused["reasons"]] == ["one-refrigerant"]
    assert call(technician, "GET", "cylinders/HM-1", 200)["net_mass_lb"] == pytest.approx(17.0)


def air(technician: FlaskClient, clock: Clock) -> float:
    """Two settled pairs with air in it: the verdict says so, and knows how much."""
    clock.forward(hours=3)
    measure(technician, 297.0, AIR_PA)
    clock.forward(hours=2)
    verdict = measure(technician, 309.0, AIR_PA)
    assert verdict["contamination"]["finding"] == "air"
    assert verdict["identity"]["candidates"][0]["designation"] == "R-22"
    found_kpa = verdict["contamination"]["air_partial_pressure_kpa"]
    assert found_kpa == pytest.approx(AIR_PA / 1e3, rel=0.1)
    return float(found_kpa)


def hold_and_release(
    technician: FlaskClient, supervisor: FlaskClient, clock: Clock, found_kpa: float
) -> None:
    """On hold: nothing in or out, until a supervisor releases it."""
    hold = call(technician, "POST", "holds", 201, cylinder="HM-1", reason=f"air, about {found_kpa:.0f} kPa")
    for direction, more in (("in", {"refrigerant": "R-22"}), ("out", {})):
        body = {"cylinder": "HM-1", "direction": direction, "mass_lb": 1.0, **more}
        refused = call(technician, "POST", "transfers", 409, **body)
        assert "on-hold" in {reason["code"] for reason in refused["reasons"]}
    label = technician.get("/api/v1/cylinders/HM-1/label.svg").get_data(as_text=True)
    assert "R-22" in label and "ON HOLD" in label
    call(technician, "DELETE", f"holds/{hold['id']}", 403)
    clock.forward(hours=1)
    call(supervisor, "DELETE", f"holds/{hold['id']}?reason=goes+to+the+reclaimer+as+it+is", 200)


def paper(technician: FlaskClient) -> None:
    """What happens in the van on the way, and what the paper says."""
    van = call(technician, "GET", "cylinders/HM-1/release?volume_m3=8", 200)
    assert {rule["code"] for rule in van["exceeded"]} == {"rcl", "oxygen"} and van["materials_of_trade"][
        "allowed"
    ]
    shipping = call(technician, "GET", "cylinders/HM-1/shipping-description", 200)
    assert shipping["text"].startswith("UN1018, Refrigerant gas R 22, 2.2; 1 cylinder, 17.0 lb")


def exchange(technician: FlaskClient, supervisor: FlaskClient) -> None:
    """Exchanged against an evacuated one; the old one takes nothing more, the new one does."""
    call(supervisor, "PUT", "prices/R-22", 200, credit_per_kg=2.0, charge_per_kg=5.0)
    handed = call(
        technician, "POST", "exchanges", 201, cylinder="HM-1", counterparty="Example Supply", receipt="N-0042",
        gross_mass_lb=44.4, received={"serial": "HM-99", "marks": "DOT-4BA400", "water_capacity_lb": 47.7,
        "tare_lb": 27.6, "place": "shop", "requalification_stamp": "1 B234 26"}, **WHO,
    )  # fmt: skip
    assert handed["net_mass_lb"] == pytest.approx(17.0) and handed["received_cylinder"] == "HM-99"
    refused = call(
        technician, "POST", "transfers", 409, cylinder="HM-1", direction="in", refrigerant="R-22", mass_lb=1
    )
    assert "out-of-service" in {reason["code"] for reason in refused["reasons"]}
    assert call(technician, "POST", "cylinders/HM-99/checks", 200, refrigerant="R-410A", mass_lb=20.0)[
        "allowed"
    ]
    call(
        technician, "POST", "purity-results", 201, cylinder="HM-1", passed=True, laboratory="Example Supply",
        designation="R-22", other_refrigerants_percent=0.2,
    )  # fmt: skip


def record_of_the_year(supervisor: FlaskClient) -> None:
    """The year's record: both jobs by equipment, the exchange with its receipt, CO2-equivalent, money."""
    records = call(supervisor, "GET", "records?from=2026-01-01&to=2026-12-31", 200)
    recovered = [entry for entry in records["entries"] if entry["kind"] == "recovered"]
    assert [(entry["mass_lb"], entry["circuit"]) for entry in recovered] == [(9.0, "A"), (8.0, "B")]
    assert all(entry["certification_number"] == "CERT-0001" for entry in recovered)
    sent = next(entry for entry in records["entries"] if entry["kind"] == "sent-for-reclaim")
    kilograms = 17.0 * 0.45359237
    assert sent["receipt"] == "N-0042" and sent["money"] == pytest.approx(2.0 * kilograms, abs=0.01)
    # GWP of R-22: AR4 1810, AR5 1760 (from memory, as the catalogue marks them).
    assert sent["co2e_ar4_kg"] == pytest.approx(1810.0 * kilograms, rel=1e-4)
    assert sent["co2e_ar5_kg"] == pytest.approx(1760.0 * kilograms, rel=1e-4)
    pdf = supervisor.get("/api/v1/records?from=2026-01-01&to=2026-12-31&format=pdf").get_data()
    text = "".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(pdf)).pages)
    assert "N-0042" in text and "CERT-0001" in text and "Example Foods" in text


def history(supervisor: FlaskClient) -> None:
    """Its history is whole, in order, and nothing in it was changed."""
    told_of = call(supervisor, "GET", "cylinders/HM-1/history", 200)["items"][::-1]
    told = [entry["data"].get("change") or entry["type"].removeprefix("heelmark.") for entry in told_of]
    steps = [step for step in told if not step.startswith("alarm")]
    assert steps == [
        "registered", "evacuation", "inspection", "transfer.recorded", "inspection", "transfer.recorded",
        "pair.recorded", "verdict.reached", "pair.recorded", "verdict.reached", "held", "released",
        "exchange.recorded", "purity-result", "analysis.recorded", "verdict.reached",
    ]  # fmt: skip


def test_the_life_of_a_cylinder(people: dict[str, FlaskClient], clock: Clock) -> None:
    technician, supervisor = people["technician"], people["supervisor"]
    deliver(technician)
    first_job(technician, clock)
    second_job(technician, clock)
    wrong_refrigerant(technician)
    hold_and_release(technician, supervisor, clock, air(technician, clock))
    paper(technician)
    exchange(technician, supervisor)
    record_of_the_year(supervisor)
    history(supervisor)
