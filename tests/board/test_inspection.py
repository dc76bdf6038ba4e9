"""What an inspector asks of, kept from the board: reclaimers, equipment, custody."""

import re
from datetime import UTC, datetime

import pytest

from service.operations import cylinders, exchanges, transfers
from service.operations.exchanges import NewExchange
from service.operations.support import calendar
from service.operations.support.context import Actor, Services
from service.operations.support.weights import Weighing
from service.operations.transfer_entry import NewTransfer
from service.units import kg_from_lb
from tests.board.conftest import Visitor
from tests.support.clock import Clock

STAMPED = {
    "place": "shop", "marks": "DOT-4BA400", "water_capacity_kg": 21.6, "tare_kg": 12.7, "gross_mass_kg": 12.7,
    "requalification_stamp": "06-24", "evacuated": True,
}  # fmt: skip


@pytest.fixture
def stocked(services: Services, actor: Actor, clock: Clock) -> str:
    """A cylinder with 9 kg of R-404A."""
    clock.at = datetime(2026, 3, 2, 18, tzinfo=UTC)
    cylinders.register(services, actor, "HM-1", STAMPED)
    new = NewTransfer("HM-1", "in", Weighing(mass_kg=9.0), refrigerant="R-404A")
    transfers.record(services, actor, new)
    return "HM-1"


def test_a_reclaimer_and_what_it_accepted(
    technician_at: Visitor, stocked: str, services: Services, actor: Actor, clock: Clock
) -> None:
    clock.forward(hours=1)
    sent = exchanges.record(services, actor, NewExchange(stocked, "Example Reclaim", "N-42", 21.7, "reclaim"))
    assert "No reclaimer is known yet" in technician_at.get("/reclaimers").text
    answer = technician_at.send(
        "/reclaimers", name="Example Reclaim", address="1 Quay Street", certification="R-77"
    )
    assert answer.status_code == 303
    page = technician_at.get("/reclaimers").text
    assert "1 Quay Street" in page and "certification R-77" in page and "receipt N-42" in page
    clock.forward(hours=24)
    path = f"/exchanges/{sent.id}/acceptance"
    assert "Net weight that they accepted: nothing was given" in technician_at.send(path, lot="L-9").text
    assert technician_at.send(path, mass="19.6", lot="L-9").status_code == 303
    assert "receipt N-42" not in technician_at.get("/reclaimers").text
    csv = technician_at.get("/records?from=2026-01-01&to=2026-12-31&format=csv").text
    assert "L-9,8.89,-0.11" in csv
    assert "is recorded already" in technician_at.send(path, mass="19.6").text


def test_equipment_that_leaks_is_due_and_a_verified_repair_ends_it(
    technician_at: Visitor, stocked: str, services: Services, actor: Actor, clock: Clock
) -> None:
    typed = {"location": "Store 12", "name": "Rack A", "refrigerant": "r404a", "mass": "60",
             "kind": "commercial-refrigeration", "leak_method": "rolling"}  # fmt: skip
    refused = technician_at.send("/equipment", **{**typed, "mass": "much"}).text
    assert "&#39;much&#39; is not a number" in refused and 'value="Store 12"' in refused
    made = technician_at.send("/equipment", **typed)
    assert made.status_code == 303
    path = made.location
    assert "It leaks 0.0" in technician_at.get(path).text
    for pounds, said, due in ((7.5, "It leaks 12.5", False), (10.0, "It leaks 29.2", True)):
        clock.forward(hours=1)
        new = NewTransfer(
            stocked, "out", Weighing(mass_kg=kg_from_lb(pounds)), phase="liquid",
            equipment={"location": "store 12", "appliance": "Rack A"},
        )  # fmt: skip
        transfers.record(services, actor, new)
        page = technician_at.get(path).text
        assert said in page and ("Repair it by 2026-04-01" in page) is due
    assert "choose one" in technician_at.send(path, kind="", outcome="passed").text
    assert technician_at.send(path, kind="verification-follow-up", outcome="passed").status_code == 303
    page = technician_at.get(path).text
    assert "It leaks 0.0" in page and "verification follow up: passed" in page and "Technician" in page


def test_who_holds_a_cylinder_and_that_it_is_late(
    technician_at: Visitor, stocked: str, services: Services, actor: Actor, clock: Clock
) -> None:
    today = calendar.today_of(services, actor)
    assert (
        "is not a day such as"
        in technician_at.send("/custody", serial=stocked, holder="Example Cooling", due_on="soon").text
    )
    sent = technician_at.send("/custody", serial=stocked, holder="Example Cooling", due_on=today.isoformat())
    assert sent.status_code == 303
    page = technician_at.get("/custody").text
    assert "is with Example Cooling" in page and "was due back" not in page
    assert "is with Example Cooling" in technician_at.send("/custody", serial=stocked, holder="Another").text
    clock.forward(hours=30)
    page = technician_at.get("/custody").text
    assert f"was due back {today.isoformat()}" in page
    found = re.search(r'action="(/custody/\d+/back)"', page)
    assert found is not None
    assert technician_at.send(found[1]).status_code == 303
    assert "Every cylinder is where the rack says" in technician_at.get("/custody").text
