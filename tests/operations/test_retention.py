"""What is shown is thinned and forgotten; what is evidence and record stays."""

from datetime import UTC, datetime, timedelta
from typing import Any

import sqlalchemy as sa

from service.operations import cylinders, health, hookups, pairs, retention
from service.operations.pairs import NewPair
from service.operations.support.atmosphere import PressureReading
from service.operations.support.context import Actor, Services
from service.store import tables
from tests.support.clock import Clock


def count(services: Services, table: sa.Table) -> int:
    with services.database.engine.connect() as connection:
        return int(connection.execute(sa.select(sa.func.count()).select_from(table)).scalar_one())


def attach(services: Services, actor: Actor, serial: str = "HM-1") -> int:
    cylinders.register(services, actor, serial, {"place": "shop"})
    new: dict[str, Any] = {
        "cylinder": serial,
        "place": "shop",
        "pressure_device": f"g-{serial}",
        "temperature_device": f"c-{serial}",
        "valve": "vapour",
    }
    return hookups.attach(services, actor, hookups.NewHookup(**new)).id


def draw(services: Services, actor: Actor, hookup: int, begin: datetime, hours: float) -> None:
    with services.database.writing(actor.organisation_id) as work:
        rows = [
            {
                "hookup_id": hookup,
                "at": begin + timedelta(seconds=15 * step),
                "settling_state": "settled",
                "temp_k": 290.0 + step,
                "pressure_pa": 1e6,
                "mass_kg": None,
            }
            for step in range(int(hours * 240))
        ]
        work.insert_many(tables.trace, rows)


def test_an_old_trace_keeps_its_first_point_of_every_five_minutes(
    any_services: Services, any_actor: Actor, clock: Clock
) -> None:
    one = attach(any_services, any_actor, "HM-1")
    other = attach(any_services, any_actor, "HM-2")
    begin = datetime(2026, 4, 20, 23, tzinfo=UTC)
    for hookup in (one, other):
        draw(any_services, any_actor, hookup, begin, 2.0)
    recent = clock() - timedelta(hours=3)
    draw(any_services, any_actor, one, recent, 1.0)
    removed = retention.maintain(any_services)[0]
    assert removed.rows == 2 * (480 - 24)
    with any_services.database.engine.connect() as connection:
        kept = connection.execute(
            sa.select(tables.trace.c.at, tables.trace.c.temp_k)
            .where(tables.trace.c.hookup_id == one, tables.trace.c.at < recent)
            .order_by(tables.trace.c.at)
        ).all()
    assert [(at - begin).total_seconds() / 300 for at, _ in kept] == list(range(24))
    assert [temp for _, temp in kept] == [290.0 + 20 * step for step in range(24)]
    assert retention.maintain(any_services)[0].rows == 0, "done once, done for good"


def test_a_trace_older_than_thirty_days_keeps_its_first_point_of_every_quarter_of_an_hour(
    services: Services, actor: Actor, clock: Clock
) -> None:
    hookup = attach(services, actor)
    begin = datetime(2026, 4, 1, 20, tzinfo=UTC)
    draw(services, actor, hookup, begin, 2.0)
    clock.at = begin + timedelta(days=29)
    retention.maintain(services)
    assert count(services, tables.trace) == 24
    clock.at = begin + timedelta(days=31)
    retention.maintain(services)
    assert count(services, tables.trace) == 8
    assert [one.rows for one in retention.maintain(services)[:2]] == [0, 0], "done once, done for good"


def test_evidence_and_records_stay_whatever_their_age(
    any_services: Services, any_actor: Actor, clock: Clock
) -> None:
    attach(any_services, any_actor)
    reading = PressureReading(absolute_pa=1.044e6)
    pairs.record(any_services, any_actor, NewPair(297.9, reading, serial="HM-1"))
    kept = (tables.pairs, tables.verdicts, tables.events, tables.cylinders, tables.hookups)
    before = {table.name: count(any_services, table) for table in kept}
    clock.forward(days=4000)
    retention.maintain(any_services)
    assert {table.name: count(any_services, table) for table in kept} == before
    assert before["pairs"] == before["verdicts"] == 1


def test_what_is_only_shown_is_forgotten_in_its_time(
    any_services: Services, any_actor: Actor, clock: Clock
) -> None:
    hookup = attach(any_services, any_actor)
    draw(any_services, any_actor, hookup, clock(), 0.1)
    health.beat(any_services, "old")
    with any_services.database.writing(any_actor.organisation_id) as work:
        now = clock()
        work.insert(
            tables.live,
            hookup_id=hookup,
            at=now,
            received_at=now,
            settling_state="settled",
            temp_k=None,
            pressure_pa=None,
            document={},
        )
        work.insert(tables.idempotency, key="k", digest="d", created_at=now)
    hookups.detach(any_services, any_actor, hookup)
    clock.forward(days=30)
    retention.maintain(any_services)
    assert (count(any_services, tables.live), count(any_services, tables.idempotency)) == (0, 1)
    clock.forward(days=400)
    retention.maintain(any_services)
    for table in (tables.idempotency, tables.trace):
        assert count(any_services, table) == 0, table.name
    with any_services.database.engine.connect() as connection:
        beating = connection.execute(sa.select(tables.heartbeats.c.process)).scalars().all()
    assert beating == [retention.PROCESS], "its own is of now"
