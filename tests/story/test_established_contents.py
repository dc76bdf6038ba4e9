"""Cylinders that were condemned by a clamp that was off, and what a result on their contents makes of that, by REST."""

from datetime import datetime

import pytest
from flask.testing import FlaskClient

from service.app import create_app
from service.operations import rejudgements, tokens
from service.operations.support.context import Services
from service.settings import Settings
from service.store.database import Database
from service.wiring import wire
from tests.conftest import make_owner
from tests.support.clock import Clock

CLAMP, GAUGE = "urn:dev:ops:32473-clamp-1", "urn:dev:ops:32473-gauge-1"
OFF_K, NAME = 2.5, "R-134a"
START_C = 24.0


class Shop:
    """A shop over HTTP, with the real engine and a watch that does its rounds when told."""

    def __init__(self, services: Services, client: FlaskClient, clock: Clock) -> None:
        self.services, self.client, self.clock = services, client, clock

    def post(self, path: str, **body: object) -> dict[str, object]:
        answer = self.client.post(f"/api/v1/{path}", json=body)
        assert answer.status_code in (200, 201), answer.get_json()
        return answer.get_json()

    def read(self, serial: str, name: str = NAME, off_k: float = OFF_K, *, hours: float = 1.0) -> None:
        """Two settled pairs of a cylinder of one refrigerant, with a clamp that is off."""
        hookup = self.post("hookups", cylinder=serial, temperature_device=CLAMP, pressure_device=GAUGE)
        for temp_c in (START_C, START_C + 3.0):
            self.clock.forward(hours=hours)
            true_pa = float(self.services.curves.bubble_pressure_pa(name, temp_c + 273.15))
            self.post(
                "equilibrium-pairs", hookup=hookup["id"], temperature_c=temp_c + off_k,
                absolute_pressure_kpa=true_pa / 1e3, temperature_uncertainty_k=0.05,
                pressure_uncertainty_kpa=0.3, temperature_bias_uncertainty_k=0.3,
                pressure_bias_uncertainty_kpa=2.0,
            )  # fmt: skip
        assert self.client.delete(f"/api/v1/hookups/{hookup['id']}").status_code in (200, 204)

    def clamp_found_wrong(self) -> None:
        self.clock.forward(hours=1)
        self.post(f"instruments/{CLAMP}/checks", method="ice-bath", error_k=OFF_K)
        self.post(f"instruments/{GAUGE}/checks", method="open-air", error_kpa=0.0)
        rejudgements.review_all(self.services)

    def result(self, serial: str, *, kind: str = "laboratory", at: datetime | None = None) -> None:
        self.clock.forward(hours=1)
        parts = [{"designation": NAME, "mass_fraction": 1.0}]
        told = {} if at is None else {"at": at.isoformat()}
        self.post("analyses", cylinder=serial, kind=kind, composition={"parts": parts}, **told)
        rejudgements.review_all(self.services)

    def advised(self, serial: str) -> tuple[str, str, str]:
        """Its first designation, contamination and disposition."""
        told = self.client.get(f"/api/v1/cylinders/{serial}/verdict").get_json()
        first = told["identity"]["candidates"][0]["designation"]
        return first, told["contamination"]["finding"], told["disposition"]["code"]


@pytest.fixture
def shop(settings: Settings, database: Database, clock: Clock) -> Shop:
    services = wire(settings, database=database, now=clock)
    owner = make_owner(services)
    client = create_app(settings, services).test_client()
    made = tokens.create(services, owner, name="test", scope="supervisor")
    client.environ_base["HTTP_AUTHORIZATION"] = f"Bearer {made.secret}"
    shop = Shop(services, client, clock)
    shop.post("cylinders", serial="HM-1", place="shop", claimed_designation=NAME)
    return shop


def test_a_hold_that_a_wrong_clamp_gave_rise_to_ends_with_a_clean_result(shop: Shop) -> None:
    shop.read("HM-1")
    assert shop.advised("HM-1")[2] == "hold"
    shop.clamp_found_wrong()
    assert shop.advised("HM-1")[:2] == (NAME, "none-detected")
    shop.result("HM-1")
    assert shop.advised("HM-1") == (NAME, "none-detected", "keep")


def test_a_result_alone_ends_it_where_nothing_is_known_of_the_clamp(shop: Shop) -> None:
    shop.read("HM-1")
    shop.result("HM-1")
    assert shop.advised("HM-1") == (NAME, "none-detected", "keep")


def test_a_makers_seal_ends_it_too_and_a_reclaimer_who_took_it_back_does_not(shop: Shop) -> None:
    shop.read("HM-1")
    shop.result("HM-1", kind="acceptance")
    assert shop.advised("HM-1")[2] == "hold"
    shop.result("HM-1", kind="sealed")
    assert shop.advised("HM-1") == (NAME, "none-detected", "keep")


def test_a_sample_from_before_the_readings_ends_nothing(shop: Shop) -> None:
    sampled = shop.services.now()
    shop.read("HM-1")
    shop.result("HM-1", at=sampled)
    assert shop.advised("HM-1")[2] == "hold"


def test_a_sample_from_before_a_fill_ends_nothing(shop: Shop) -> None:
    shop.post(
        "cylinders", serial="HM-2", place="shop", claimed_designation=NAME, marks="DOT-4BA400",
        water_capacity_kg=21.6, tare_kg=12.7, gross_mass_kg=15.7, requalification_stamp="6 A123 24",
    )  # fmt: skip
    shop.read("HM-2", off_k=0.0)
    sampled = shop.services.now()
    shop.clock.forward(hours=1)
    shop.post("transfers", cylinder="HM-2", direction="in", refrigerant=NAME, mass_kg=2.0, phase="liquid")
    shop.read("HM-2", off_k=3.0)
    before = shop.advised("HM-2")
    assert before[2] != "keep"
    shop.result("HM-2", at=sampled)
    assert shop.advised("HM-2") == before


def test_a_result_that_a_well_known_set_contradicts_leaves_it_open(shop: Shop) -> None:
    """Either the laboratory had another cylinder's sample, or the clamp has just fallen: nobody can tell."""
    for number in range(2, 8):
        shop.post("cylinders", serial=f"HM-{number}", place="shop", claimed_designation=NAME)
        shop.read(f"HM-{number}", off_k=0.0)
    shop.read("HM-1")
    shop.result("HM-1")
    first, contamination, disposition = shop.advised("HM-1")
    assert (first, contamination) == (NAME, "undecided")
    assert disposition in {"measure-again", "hold"}, "it is not kept"
