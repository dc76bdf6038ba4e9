"""The deliverer against a receiver that accepts, fails, asks to wait, is gone; with a clock of our own."""

import threading
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from typing import Any

import pytest
import sqlalchemy as sa

from service.codes import AlarmCode
from service.operations import webhooks
from service.operations.deliveries import Deliverer
from service.operations.support.errors import Conflict, Invalid
from service.operations.support.events import CYLINDER_CHANGED, PAIR_RECORDED, VERDICT_REACHED
from service.operations.webhooks import NewWebhook
from service.outbound.sender import Outcome
from service.store.tables import webhook_cursors
from tests.support.delivery import LEASE_S, START, URL, World, message_ids


def test_events_arrive_in_order_and_once(world: World) -> None:
    world.subscribe()
    happened = world.happen(3) + world.happen(2)
    world.deliver()
    assert world.receiver.ids == message_ids(happened)
    assert world.deliver() == 0
    assert len(world.receiver.got) == 5


def test_what_happened_before_the_subscription_is_not_sent(world: World) -> None:
    world.happen(3)
    world.subscribe()
    world.deliver()
    assert world.receiver.got == []


def test_only_the_types_asked_for_are_sent_and_internal_ones_never(world: World) -> None:
    world.subscribe(types=(VERDICT_REACHED,))
    world.happen(2, CYLINDER_CHANGED)
    wanted = world.happen(1, VERDICT_REACHED)
    world.happen(2, PAIR_RECORDED)
    world.deliver()
    assert world.receiver.ids == message_ids(wanted)
    assert world.deliver() == 0


def test_a_failure_is_tried_again_later_and_blocks_what_follows(world: World) -> None:
    world.subscribe()
    first, second = world.happen(2)
    world.receiver.answers = [Outcome(500, "answered 500")]
    world.deliver()
    assert world.deliver() == 0, "not before its time"
    world.later(seconds=5)
    world.deliver()
    assert world.receiver.ids == message_ids([first, first, second])


def test_retry_after_is_heeded(world: World) -> None:
    world.subscribe()
    world.happen()
    world.receiver.answers = [Outcome(503, "answered 503", timedelta(minutes=10))]
    world.deliver()
    world.later(minutes=9, seconds=59)
    assert world.deliver() == 0
    world.later(seconds=1)
    assert world.deliver() == 1


def test_a_success_forgets_earlier_failures(world: World) -> None:
    webhook_id = world.subscribe()
    world.happen()
    world.receiver.answers = [Outcome(500, "answered 500")] * 3
    for _ in range(4):
        world.deliver()
        world.later(hours=5)
    webhook = webhooks.read(world.services, world.actor, webhook_id)
    assert (webhook.failures, webhook.failing_since) == (0, None)


def fail_for(world: World, hours: float) -> None:
    end = world.clock[0] + timedelta(hours=hours)
    while world.clock[0] < end:
        world.receiver.answers = [Outcome(None, "ConnectionError: refused")]
        world.deliver()
        world.later(hours=1)


def test_after_three_days_of_failures_it_is_disabled_with_an_alarm(world: World) -> None:
    webhook_id = world.subscribe()
    world.happen()
    fail_for(world, 71)
    assert webhooks.read(world.services, world.actor, webhook_id).disabled_at is None
    fail_for(world, 6)
    webhook = webhooks.read(world.services, world.actor, webhook_id)
    assert webhook.disabled_at is not None
    assert "72 hours" in str(webhook.disabled_reason)
    assert [a["details"] for a in open_alarms(world)] == [{"webhook": webhook_id}]
    sent = len(world.receiver.got)
    world.later(days=1)
    assert world.deliver() == 0
    assert len(world.receiver.got) == sent


def open_alarms(world: World) -> list[dict[str, Any]]:
    from service.store import alarms

    with world.services.database.reading(world.actor.organisation_id) as work:
        return [
            {"code": a.code, "details": a.details}
            for a in alarms.open_ones(work)
            if a.code == AlarmCode.WEBHOOK_DISABLED
        ]


def test_enabled_again_it_goes_on_where_it_stopped_and_the_alarm_clears(world: World) -> None:
    webhook_id = world.subscribe(types=(CYLINDER_CHANGED,))
    (missed,) = world.happen()
    fail_for(world, 80)
    world.receiver.got.clear()
    webhooks.enable(world.services, world.actor, webhook_id, skip_missed=False)
    world.deliver()
    assert world.receiver.ids == message_ids([missed])
    assert open_alarms(world) == []


def test_enabled_again_it_may_skip_what_it_missed(world: World) -> None:
    webhook_id = world.subscribe(types=(CYLINDER_CHANGED,))
    world.happen()
    fail_for(world, 80)
    world.receiver.got.clear()
    webhooks.enable(world.services, world.actor, webhook_id, skip_missed=True)
    newer = world.happen()
    world.deliver()
    assert world.receiver.ids == message_ids(newer)


def test_a_receiver_that_is_gone_is_disabled_at_once(world: World) -> None:
    webhook_id = world.subscribe()
    world.happen()
    world.receiver.answers = [Outcome(410, "answered 410")]
    world.deliver()
    assert "410" in str(webhooks.read(world.services, world.actor, webhook_id).disabled_reason)
    assert len(open_alarms(world)) == 1


def test_one_broken_receiver_does_not_hold_up_another(world: World) -> None:
    world.subscribe(types=(VERDICT_REACHED,))
    webhooks.subscribe(world.services, world.actor, NewWebhook("https://other.example/", (CYLINDER_CHANGED,)))
    world.happen(1, VERDICT_REACHED)
    (fine,) = world.happen(1, CYLINDER_CHANGED)
    world.receiver.send = lambda url, headers, body: (  # type: ignore[method-assign]
        world.receiver.got.append((url, headers, body))
        or Outcome(500 if url == URL else 204, "answered 500" if url == URL else None)
    )
    world.deliver()
    assert ("https://other.example/", f"evt_{fine}") in [
        (u, h["webhook-id"]) for u, h, _ in world.receiver.got
    ]


def test_a_receiver_that_hangs_keeps_one_thread_and_nobody_waiting(world: World) -> None:
    world.subscribe(types=(VERDICT_REACHED,))
    fine = NewWebhook("https://other.example/", (CYLINDER_CHANGED,))
    webhooks.subscribe(world.services, world.actor, fine)
    hanging, heard = threading.Event(), threading.Semaphore(0)

    def send(url: str, headers: dict[str, str], body: bytes) -> Outcome:
        if url == URL:
            hanging.wait(30)
        else:
            heard.release()
        return Outcome(204)

    world.receiver.send = send  # type: ignore[method-assign]
    world.happen(1, VERDICT_REACHED)
    deliverer = Deliverer(world.services, "one", lambda: 0.5)
    with ThreadPoolExecutor(4) as pool:
        for _ in range(3):
            world.happen(1, CYLINDER_CHANGED)
            begun = [deliverer.round(pool)]
            while not heard.acquire(timeout=0.05):
                begun.append(deliverer.round(pool))
                assert len(begun) < 200
        hanging.set()


def test_two_deliverers_do_not_send_the_same(world: World) -> None:
    world.subscribe()
    world.happen()
    inside: list[int] = []

    def slow(url: str, headers: dict[str, str], body: bytes) -> Outcome:
        inside.append(world.deliver("two"))
        world.receiver.got.append((url, headers, body))
        return Outcome(204)

    world.receiver.send = slow  # type: ignore[method-assign]
    world.deliver("one")
    assert inside == [0]
    assert len(world.receiver.got) == 1


def test_a_deliverer_killed_after_sending_sends_again_under_the_same_id(world: World) -> None:
    world.subscribe()
    world.happen()

    def killed(url: str, headers: dict[str, str], body: bytes) -> Outcome:
        world.receiver.got.append((url, headers, body))
        raise KeyboardInterrupt

    original, world.receiver.send = world.receiver.send, killed  # type: ignore[method-assign]
    world.deliver("one")
    world.receiver.send = original  # type: ignore[method-assign]
    assert world.deliver("two") == 0, "still leased"
    world.later(seconds=LEASE_S)
    world.deliver("two")
    assert len(world.receiver.ids) == 2
    assert len(set(world.receiver.ids)) == 1


def test_one_that_lost_its_lease_changes_nothing(world: World) -> None:
    """It slept through its lease; the other has delivered and moved on."""
    world.subscribe()
    (event,) = world.happen()
    original = world.receiver.send

    def sleepy(url: str, headers: dict[str, str], body: bytes) -> Outcome:
        world.receiver.send = original  # type: ignore[method-assign]
        world.later(seconds=LEASE_S + 1)
        world.deliver("two")
        return Outcome(500, "answered 500")

    world.receiver.send = sleepy  # type: ignore[method-assign]
    world.deliver("one")
    with world.services.database.engine.connect() as connection:
        row = connection.execute(sa.select(webhook_cursors)).mappings().one()
    assert (row["position"] >= event, row["failures"]) == (True, 0)


def test_a_replay_sends_a_period_again_beside_newer_events(world: World) -> None:
    webhook_id = world.subscribe()
    world.happen(1)
    world.later(hours=1)
    wanted = world.happen(3)
    world.later(hours=1)
    world.happen(1)
    world.deliver()
    world.receiver.got.clear()
    count = webhooks.replay(
        world.services, world.actor, webhook_id, START + timedelta(minutes=30), START + timedelta(minutes=90)
    )
    assert count == 3
    with pytest.raises(Conflict, match="under way"):
        webhooks.replay(world.services, world.actor, webhook_id, START, START + timedelta(days=1))
    (newer,) = world.happen(1)
    world.deliver()
    assert sorted(world.receiver.ids) == sorted(message_ids([*wanted, newer]))
    assert world.deliver() == 0
    webhooks.replay(world.services, world.actor, webhook_id, START, START + timedelta(minutes=1))


def test_a_replay_of_nothing_or_backwards(world: World) -> None:
    webhook_id = world.subscribe()
    far = START + timedelta(days=9)
    assert webhooks.replay(world.services, world.actor, webhook_id, far, far + timedelta(days=1)) == 0
    with pytest.raises(Invalid, match="later than"):
        webhooks.replay(world.services, world.actor, webhook_id, far, far)
