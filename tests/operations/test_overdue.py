"""What a day alone makes due: cylinders that are not back, leaks that are not repaired."""

from datetime import timedelta

from service.codes import AlarmCode, WorkKind
from service.operations import (
    alarms,
    appliances,
    custody,
    cylinders,
    hookups,
    instruments,
    overdue,
    transfers,
)
from service.operations.appliances import NewAppliance
from service.operations.hookups import NewHookup
from service.operations.instruments import NewCheck
from service.operations.support import calendar
from service.operations.support.context import Actor, Services
from service.operations.support.weights import Weighing
from service.operations.transfer_entry import NewTransfer
from service.store.paging import PageRequest
from service.units import kg_from_lb
from tests.support.clock import Clock

RACK = {"owner": "Example Foods", "location": "Store 12", "appliance": "Rack A"}


def standing(services: Services, actor: Actor, code: str) -> list[str]:
    found = alarms.listed(services, actor, PageRequest(), open_only=True, code=code).items
    return [alarm.text for alarm in found]


def test_a_cylinder_that_is_not_back_is_an_alarm_until_it_is(
    any_services: Services, any_actor: Actor, clock: Clock
) -> None:
    cylinders.register(any_services, any_actor, "HM-1", {"marks": "DOT-4BA400"})
    due = calendar.today_of(any_services, any_actor) + timedelta(days=2)
    out = custody.hand_out(any_services, any_actor, "HM-1", holder="Example Cooling", due_on=due)
    clock.forward(days=2)
    overdue.review(any_services)
    assert standing(any_services, any_actor, AlarmCode.CUSTODY_OVERDUE) == [], (
        "the day itself is still in time"
    )
    clock.forward(days=1)
    overdue.review(any_services)
    overdue.review(any_services)
    (text,) = standing(any_services, any_actor, AlarmCode.CUSTODY_OVERDUE)
    assert "HM-1 is with Example Cooling" in text and str(due) in text
    custody.bring_back(any_services, any_actor, out.id)
    overdue.review(any_services)
    assert standing(any_services, any_actor, AlarmCode.CUSTODY_OVERDUE) == []


def test_a_leak_that_is_not_repaired_in_time_is_an_alarm_until_it_is(
    any_services: Services, any_actor: Actor, clock: Clock
) -> None:
    services, actor = any_services, any_actor
    rack = NewAppliance(
        RACK["location"],
        RACK["appliance"],
        "R-404A",
        kg_from_lb(100.0),
        "commercial-refrigeration",
        RACK["owner"],
    )
    made = appliances.register(services, actor, rack)
    marks = {"marks": "DOT-4BA400", "water_capacity_kg": 21.6, "tare_kg": 12.7, "gross_mass_kg": 30.0}
    cylinders.register(services, actor, "HM-2", {**marks, "claimed_designation": "R-404A"})
    charge = NewTransfer("HM-2", "out", Weighing(mass_kg=kg_from_lb(25.0)), equipment=RACK)
    transfers.record(services, actor, charge)
    clock.forward(days=30)
    overdue.review(services)
    assert standing(services, actor, AlarmCode.REPAIR_OVERDUE) == []
    clock.forward(days=1)
    overdue.review(services)
    (text,) = standing(services, actor, AlarmCode.REPAIR_OVERDUE)
    assert "Rack A at Store 12 leaks 25 % a year" in text and "40 CFR 84.106" in text
    appliances.add_work(services, actor, made.id, kind=WorkKind.VERIFICATION_FOLLOW_UP, passed=True)
    overdue.review(services)
    assert standing(services, actor, AlarmCode.REPAIR_OVERDUE) == []


def test_a_check_that_is_due_is_an_alarm_while_the_instrument_is_in_use(
    any_services: Services, any_actor: Actor, clock: Clock
) -> None:
    cylinders.register(any_services, any_actor, "HM-1", {"place": "shop"})
    hookup = hookups.attach(any_services, any_actor, NewHookup("HM-1", "urn:dev:ops:1-gauge-7", "clamp-1"))
    instruments.check(any_services, any_actor, NewCheck("urn:dev:ops:1-gauge-7", "open-air", "zero_pa", 0.0))
    clock.forward(days=instruments.CHECKED_AGAIN.days - 1)
    overdue.review(any_services)
    assert standing(any_services, any_actor, AlarmCode.CHECK_DUE) == []
    clock.forward(days=2)
    overdue.review(any_services)
    (text,) = standing(any_services, any_actor, AlarmCode.CHECK_DUE)
    assert text.startswith("gauge-7 was due for a check on 2026-08-03")
    instruments.check(any_services, any_actor, NewCheck("urn:dev:ops:1-gauge-7", "open-air", "zero_pa", 0.0))
    overdue.review(any_services)
    assert standing(any_services, any_actor, AlarmCode.CHECK_DUE) == []
    hookups.detach(any_services, any_actor, hookup.id)
    clock.forward(days=200)
    overdue.review(any_services)
    assert standing(any_services, any_actor, AlarmCode.CHECK_DUE) == [], "it lies in a drawer"
