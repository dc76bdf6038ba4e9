"""As an inspector would who asks for last year: what is missing, what leaks, who has what."""

from datetime import UTC, date, datetime

import pytest

from service.operations import (
    appliances,
    custody,
    cylinders,
    exchanges,
    organisation,
    people,
    reclaimers,
    records,
    transfers,
)
from service.operations.appliances import NewAppliance
from service.operations.exchanges import NewExchange
from service.operations.people import NewPerson
from service.operations.reclaimers import NewAcceptance
from service.operations.support import calendar
from service.operations.support.context import Actor, Services
from service.operations.support.errors import Conflict, Invalid
from service.operations.support.weights import Weighing
from service.operations.transfer_entry import NewTransfer
from service.paperwork.records_gaps import gaps
from service.store.paging import PageRequest
from service.units import kg_from_lb
from tests.support.clock import Clock

STAMPED = {
    "marks": "DOT-4BA400", "water_capacity_kg": 21.6, "tare_kg": 12.7, "requalification_stamp": "06-24",
    "gross_mass_kg": 12.7, "evacuated": True, "place": "shop",
}  # fmt: skip
RACK = {
    "owner": "Example Foods",
    "location": "Store 12",
    "appliance": "Rack A",
    "charge_kg": kg_from_lb(100.0),
}


@pytest.fixture
def shop(services: Services, actor: Actor, clock: Clock) -> Actor:
    organisation.change(services, actor, time_zone="America/Denver")
    clock.at = datetime(2026, 3, 2, 18, tzinfo=UTC)
    cylinders.register(services, actor, "HM-1", STAMPED)
    return actor


def year(services: Services, actor: Actor) -> records.Records:
    return records.of_period(services, actor, date(2026, 1, 1), date(2026, 12, 31))


def test_what_a_record_lacks_is_named_and_what_it_has_is_complete(
    services: Services, shop: Actor, clock: Clock
) -> None:
    transfers.record(services, shop, NewTransfer("HM-1", "in", Weighing(mass_kg=5.0), refrigerant="R-404A"))
    missing = {(gap.entry, gap.field) for gap in gaps(year(services, shop).entries, "us")}
    assert missing == {
        (1, "location"), (1, "appliance"), (1, "technician"), (1, "certification"), (1, "certification_type"),
    }  # fmt: skip
    people.create(
        services,
        shop,
        NewPerson("rosa", "Rosa Example", "technician", "long enough", "U-123", "universal", "Example Board"),
    )
    clock.forward(hours=1)
    transfers.record(
        services, shop,
        NewTransfer("HM-1", "in", Weighing(mass_kg=4.2), refrigerant="R-404A", technician="Rosa Example",
                    certification_number="U-123", equipment=RACK),
    )  # fmt: skip
    found = year(services, shop)
    assert {gap.entry for gap in gaps(found.entries, "us")} == {1}
    assert found.entries[1].certification_type == "universal"


def test_both_ends_weights_their_difference_and_the_lot(
    services: Services, shop: Actor, clock: Clock
) -> None:
    transfers.record(services, shop, NewTransfer("HM-1", "in", Weighing(mass_kg=9.2), refrigerant="R-404A"))
    clock.forward(days=1)
    sent = exchanges.record(services, shop, NewExchange("HM-1", "Example Reclaim", "R-77", 21.9))
    fields = {gap.field for gap in gaps(year(services, shop).entries[1:], "us")}
    assert fields == {"counterparty_address", "counterparty_certification", "their_mass_kg"}
    with pytest.raises(Invalid, match="not before it was sent"):
        reclaimers.accept(
            services, shop, sent.id, NewAcceptance(9.1, accepted_at=datetime(2026, 3, 1, tzinfo=UTC))
        )
    clock.at = datetime(2026, 3, 10, 2, tzinfo=UTC)
    reclaimers.accept(services, shop, sent.id, NewAcceptance(9.1, lot="L-9"))
    reclaimers.put(services, shop, "Example Reclaim", address="1 Example Road", certification_number="RC-1")
    with pytest.raises(Conflict):
        reclaimers.accept(services, shop, sent.id, NewAcceptance(9.0))
    entry = year(services, shop).entries[1]
    assert (entry.lot, entry.counterparty_address, entry.accepted_on) == (
        "L-9",
        "1 Example Road",
        date(2026, 3, 9),
    )
    assert entry.difference_kg == pytest.approx(-0.1)
    assert not gaps([entry], "us")


def test_the_balance_explains_what_is_on_hand(services: Services, shop: Actor, clock: Clock) -> None:
    def move(direction: str, mass_kg: float) -> None:
        clock.forward(hours=1)
        new = NewTransfer(
            "HM-1", direction, Weighing(mass_kg=mass_kg), refrigerant="R-404A", phase="liquid", equipment=RACK
        )
        transfers.record(services, shop, new)

    move("in", 9.0)
    move("out", 2.5)
    (balance,) = year(services, shop).balances
    figures = (
        balance.opening_kg,
        balance.recovered_kg,
        balance.charged_kg,
        balance.sent_kg,
        balance.closing_kg,
    )
    assert figures == pytest.approx((0.0, 9.0, 2.5, 0.0, 6.5))
    assert balance.on_hand_kg == pytest.approx(6.5) and balance.unexplained_kg == pytest.approx(0.0)
    cylinders.register(
        services, shop, "HM-2", {"claimed_designation": "R-404A", "tare_kg": 12.0, "gross_mass_kg": 15.0}
    )
    (balance,) = year(services, shop).balances
    assert balance.unexplained_kg == pytest.approx(3.0)
    earlier = records.of_period(services, shop, date(2026, 1, 1), date(2026, 3, 1)).balances
    assert all(one.on_hand_kg is None for one in earlier)


def test_an_appliance_that_leaks_is_due_for_repair_and_then_not(
    services: Services, shop: Actor, clock: Clock
) -> None:
    new = NewAppliance(
        "Store 12", "Rack A", "R-404A", kg_from_lb(100.0), "commercial-refrigeration", owner="Example Foods"
    )
    rack_a = appliances.register(services, shop, new)
    with pytest.raises(Conflict):
        appliances.register(services, shop, new)
    transfers.record(services, shop, NewTransfer("HM-1", "in", Weighing(mass_kg=15.0), refrigerant="R-404A"))
    for days, pounds in ((1, 5.0), (180, 10.0)):
        clock.forward(days=days)
        out = NewTransfer("HM-1", "out", Weighing(mass_kg=kg_from_lb(pounds)), phase="liquid", equipment=RACK)
        transfers.record(services, shop, out)
    found = appliances.leak_status(services, shop, rack_a.id)
    # The worked example of public guides: 10 lb into 100 lb after 180 days.
    assert 100.0 * found.rate.rate == pytest.approx(20.27, abs=0.05)
    assert (
        found.rule is not None and found.rule.code == "leak-repair-hfc" and found.rate.repair_by is not None
    )
    clock.forward(days=3)
    done = appliances.add_work(services, shop, rack_a.id, kind="verification-follow-up", passed=True)
    assert done.rate.repair_by is None and [work.kind for work in done.works] == ["verification-follow-up"]


def test_a_cylinder_in_somebodys_hands_is_due_back(services: Services, shop: Actor, clock: Clock) -> None:
    entry = custody.hand_out(services, shop, "HM-1", holder="Example Cooling", due_on=date(2026, 3, 9))
    with pytest.raises(Conflict):
        custody.hand_out(services, shop, "HM-1", holder="Another", due_on=None)
    # Clocks in Denver were set forward on 8 March 2026: midnight is 06:00 UTC.
    for at, late in (
        (datetime(2026, 3, 10, 5, 59, tzinfo=UTC), False),
        (datetime(2026, 3, 10, 6, 0, tzinfo=UTC), True),
    ):
        clock.at = at
        assert custody.overdue(entry, calendar.today_of(services, shop)) is late
    back = custody.bring_back(services, shop, entry.id)
    assert back.returned_at is not None and not custody.overdue(back, date(2026, 3, 20))
    assert not custody.listed(services, shop, PageRequest(10), out_only=True).items
    with pytest.raises(Conflict):
        custody.bring_back(services, shop, entry.id)
    with pytest.raises(Invalid, match="due_on"):
        custody.hand_out(services, shop, "HM-1", holder="Example Cooling", due_on=date(2026, 3, 1))
