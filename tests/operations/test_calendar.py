"""The organisation's day: at 18:30 in Denver it is past midnight UTC, and the last day of a month still counts."""

from datetime import UTC, date, datetime

import pytest

from service.cylinders.judgement.state import Incoming
from service.operations import (
    checks,
    cylinders,
    organisation,
    overview,
    paper,
    records,
    suitable,
    transfers,
)
from service.operations.paper import Wish
from service.operations.support import calendar
from service.operations.support.context import Actor, Services
from service.operations.support.errors import Invalid
from service.operations.support.weights import Weighing
from service.operations.transfer_entry import NewTransfer
from tests.support.clock import Clock

LAST_DAY_IN_DENVER = datetime(2026, 7, 1, 0, 30, tzinfo=UTC)
DUE = {
    "marks": "DOT-4BA400", "water_capacity_kg": 21.6, "tare_kg": 12.7, "requalification_stamp": "06-21",
    "gross_mass_kg": 12.7, "evacuated": True, "place": "shop",
}  # fmt: skip


@pytest.fixture
def denver(services: Services, actor: Actor, clock: Clock) -> Actor:
    organisation.change(services, actor, time_zone="America/Denver")
    clock.at = LAST_DAY_IN_DENVER
    cylinders.register(services, actor, "HM-1", DUE)
    return actor


def test_the_day_is_the_organisations(services: Services, denver: Actor, clock: Clock) -> None:
    assert calendar.today_of(services, denver) == date(2026, 6, 30)
    clock.at = datetime(2026, 7, 1, 6, 0, tzinfo=UTC)
    assert calendar.today_of(services, denver) == date(2026, 7, 1)


def codes(answer: checks.Checked) -> set[str]:
    return {breach.rule.code for breach in answer.check.breaches}


def test_every_voice_counts_the_last_day_of_the_month_by_it(
    services: Services, denver: Actor, clock: Clock
) -> None:
    incoming = Incoming("R-22", 1.0)
    assert "requalification-overdue" not in codes(checks.check(services, denver, "HM-1", incoming))
    assert overview.one(services, denver, "HM-1").judgement.requalification.state == "due-soon"
    label = paper.of(services, denver, "HM-1", Wish("https://example.org")).label
    assert (label.printed_on, label.requalification_state) == (date(2026, 6, 30), "due-soon")
    assert suitable.suitable(services, denver, incoming, place=None)[0]
    clock.at = datetime(2026, 7, 1, 6, 0, tzinfo=UTC)
    assert "requalification-overdue" in codes(checks.check(services, denver, "HM-1", incoming))
    assert overview.one(services, denver, "HM-1").judgement.requalification.state == "overdue"
    assert paper.of(services, denver, "HM-1", Wish("https://example.org")).label.printed_on == date(
        2026, 7, 1
    )
    assert not suitable.suitable(services, denver, incoming, place=None)[0]


def test_a_stamp_of_next_month_is_of_the_future_until_the_month_has_come_there(
    services: Services, denver: Actor, clock: Clock
) -> None:
    with pytest.raises(Invalid, match="requalification_stamp"):
        cylinders.register(services, denver, "HM-2", {**DUE, "requalification_stamp": "07-26"})
    clock.at = datetime(2026, 7, 1, 6, 0, tzinfo=UTC)
    cylinders.register(services, denver, "HM-2", {**DUE, "requalification_stamp": "07-26"})


def test_records_and_their_months_are_local(services: Services, denver: Actor) -> None:
    transfers.record(services, denver, NewTransfer("HM-1", "in", Weighing(mass_kg=1.0), refrigerant="R-22"))
    june = records.of_period(services, denver, date(2026, 6, 1), date(2026, 6, 30))
    july = records.of_period(services, denver, date(2026, 7, 1), date(2026, 7, 31))
    assert [entry.at.isoformat() for entry in june.entries] == ["2026-06-30T18:30:00-06:00"]
    assert not july.entries and june.time_zone == "America/Denver"


def test_only_a_time_zone_that_exists(services: Services, actor: Actor) -> None:
    with pytest.raises(Invalid, match="time_zone"):
        organisation.change(services, actor, time_zone="Mars/Olympus")
    assert organisation.read(services, actor).time_zone == "UTC"


@pytest.mark.parametrize(
    ("day", "hours"), [(date(2026, 3, 8), 23), (date(2026, 11, 1), 25), (date(2026, 5, 4), 24)]
)
def test_a_day_is_as_long_as_the_clocks_make_it(
    services: Services, denver: Actor, day: date, hours: int
) -> None:
    # United States: clocks change on the second Sunday of March and the first of November (common knowledge).
    with services.database.reading(denver.organisation_id) as work:
        begin, end = calendar.start_of(work, day), calendar.start_of(work, day.replace(day=day.day + 1))
    assert (end.astimezone(UTC) - begin.astimezone(UTC)).total_seconds() == hours * 3600
