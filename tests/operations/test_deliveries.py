"""The deliverer against a receiver that accepts, fails, asks to wait, is gone; with a clock of our own."""

import shutil
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

from service.operations import webhooks
from service.operations.context import Actor, Services, tell
from service.operations.deliveries import Deliverer
from service.operations.errors import Conflict, Invalid, NotFound
from service.operations.events import CYLINDER_CHANGED, PAIR_RECORDED, VERDICT_REACHED
from service.operations.webhooks import NewWebhook
from service.outbound.addresses import AddressPolicy
from service.outbound.backoff import Backoff
from service.outbound.post import Post
from service.outbound.sealing import Seal
from service.outbound.sender import Outcome
from service.store import migrate
from service.store.database import Database
from service.store.paging import PageRequest
from service.store.tables import events, organisations, webhook_cursors

START = datetime(2026, 3, 1, 12, tzinfo=UTC)
URL = "https://fleet.example/in"
LEASE_S = 60.0


@dataclass
class Receiver:
    """Stands for the network: what it answers next, and what it was sent."""

    answers: list[Outcome] = field(default_factory=list)
    got: list[tuple[str, dict[str, str], bytes]] = field(default_factory=list)
    total_timeout_s: float = LEASE_S / 3
    policy: AddressPolicy = field(default_factory=AddressPolicy)

    def resolve(self, host: str, port: int) -> list[str]:
        return ["8.8.8.8"]

    def send(self, url: str, headers: dict[str, str], body: bytes) -> Outcome:
        self.got.append((url, headers, body))
        return self.answers.pop(0) if self.answers else Outcome(204)

    @property
    def ids(self) -> list[str]:
        return [headers["webhook-id"] for _, headers, _ in self.got]


@dataclass
class World:
    services: Services
    receiver: Receiver
    actor: Actor
    clock: list[datetime]

    def later(self, **span: float) -> None:
        self.clock[0] += timedelta(**span)

    def happen(self, count: int = 1, kind: str = CYLINDER_CHANGED) -> list[int]:
        with self.services.database.writing(self.actor.organisation_id) as work:
            for number in range(count):
                tell(work, self.actor, self.clock[0], kind, "cylinders/HM-1", {"number": number})
        with self.services.database.engine.connect() as connection:
            newest = connection.execute(sa.select(sa.func.max(events.c.id))).scalar_one()
        return list(range(newest - count + 1, newest + 1))

    def deliver(self, holder: str = "one", **options: Any) -> int:
        with ThreadPoolExecutor(2) as pool:
            return Deliverer(self.services, holder, lambda: 0.5, **options).round(pool)

    def subscribe(self, **options: Any) -> int:
        return webhooks.subscribe(self.services, self.actor, NewWebhook(URL, **options)).webhook.id


@pytest.fixture(scope="module")
def migrated(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("migrated") / "test.sqlite"
    migrate.upgrade(f"sqlite:///{path}")
    return path


@pytest.fixture
def world(tmp_path: Path, migrated: Path) -> Iterator[World]:
    database = Database(f"sqlite:///{shutil.copy(migrated, tmp_path)}")
    with database.unowned() as connection:
        made = sa.insert(organisations).values(name="home", created_at=START).returning(organisations.c.id)
        owner = connection.execute(made).scalar_one()
    receiver, clock = Receiver(), [START]
    secrets = iter(f"a secret of the tests, number {n:08d}" for n in range(1000))
    services = Services(
        database=database,
        catalogue=None,
        curves=None,
        judge=None,
        policy=None,
        now=lambda: clock[0],
        new_secret=lambda: next(secrets),
        post=Post(receiver, Seal("k" * 40), Backoff(), "https://heelmark.example"),
    )
    yield World(services, receiver, Actor(owner, "person:rosa", "supervisor"), clock)
    database.dispose()


def message_ids(numbers: list[int]) -> list[str]:
    return [f"evt_{number}" for number in numbers]


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
    assert [a["details"] for a in standing_alarms(world)] == [{"webhook": webhook_id}]
    sent = len(world.receiver.got)
    world.later(days=1)
    assert world.deliver() == 0
    assert len(world.receiver.got) == sent


def standing_alarms(world: World) -> list[dict[str, Any]]:
    from service.store import alarms

    with world.services.database.reading(world.actor.organisation_id) as work:
        return [
            {"code": a.code, "details": a.details}
            for a in alarms.standing(work)
            if a.code == webhooks.ALARM_CODE
        ]


def test_enabled_again_it_goes_on_where_it_stopped_and_the_alarm_clears(world: World) -> None:
    webhook_id = world.subscribe(types=(CYLINDER_CHANGED,))
    (missed,) = world.happen()
    fail_for(world, 80)
    world.receiver.got.clear()
    webhooks.enable(world.services, world.actor, webhook_id, skip_missed=False)
    world.deliver()
    assert world.receiver.ids == message_ids([missed])
    assert standing_alarms(world) == []


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
    assert len(standing_alarms(world)) == 1


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
    with pytest.raises(KeyboardInterrupt):
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


def test_while_a_rotation_overlaps_both_secrets_sign(world: World) -> None:
    from standardwebhooks import Webhook
    from standardwebhooks.webhooks import WebhookVerificationError

    world.clock[0] = datetime.now(UTC)
    made = webhooks.subscribe(world.services, world.actor, NewWebhook(URL))
    rotated = webhooks.rotate_secret(world.services, world.actor, made.webhook.id, timedelta(hours=24))
    assert rotated.secret != made.secret
    world.happen()
    world.deliver()
    _, headers, body = world.receiver.got[-1]
    for secret in (made.secret, rotated.secret):
        Webhook(secret).verify(body, headers)
    with world.services.database.writing(world.actor.organisation_id) as work:
        from service.store import webhooks as stored

        stored.change(work, made.webhook.id, previous_secret_until=world.clock[0] - timedelta(seconds=1))
    world.happen()
    world.deliver()
    _, headers, body = world.receiver.got[-1]
    Webhook(rotated.secret).verify(body, headers)
    with pytest.raises(WebhookVerificationError):
        Webhook(made.secret).verify(body, headers)


def test_the_log_and_the_ping_tell_what_came_of_it(world: World) -> None:
    webhook_id = world.subscribe()
    world.happen()
    world.receiver.answers = [Outcome(500, "answered 500", excerpt="oh\x00 no")]
    world.deliver()
    outcome = webhooks.ping(world.services, world.actor, webhook_id)
    assert outcome.accepted
    ping, failed = webhooks.attempts(world.services, world.actor, webhook_id, PageRequest()).items
    assert (ping.event_type, ping.status) == ("heelmark.webhook.pinged", 204)
    assert (failed.status, failed.error, failed.excerpt) == (500, "answered 500", "oh no")


def test_deleted_it_hears_nothing_more(world: World) -> None:
    webhook_id = world.subscribe()
    world.happen()
    webhooks.unsubscribe(world.services, world.actor, webhook_id)
    world.deliver()
    assert world.receiver.got == []
    with pytest.raises(NotFound):
        webhooks.read(world.services, world.actor, webhook_id)


def test_another_organisation_sees_nothing_of_it(world: World) -> None:
    webhook_id = world.subscribe()
    stranger = Actor(world.actor.organisation_id + 1, "person:eve", "administrator")
    for call in (
        lambda: webhooks.read(world.services, stranger, webhook_id),
        lambda: webhooks.ping(world.services, stranger, webhook_id),
        lambda: webhooks.unsubscribe(world.services, stranger, webhook_id),
        lambda: webhooks.attempts(world.services, stranger, webhook_id, PageRequest()),
    ):
        with pytest.raises(NotFound):
            call()


@pytest.mark.parametrize("url", ["http://fleet.example/", "https://127.0.0.1/", "https://[::1]/", "nonsense"])
def test_unacceptable_targets_are_refused_when_asked_for(world: World, url: str) -> None:
    world.receiver.resolve = lambda host, port: [host]  # type: ignore[method-assign]
    with pytest.raises(Invalid, match="url"):
        webhooks.subscribe(world.services, world.actor, NewWebhook(url))


def test_unknown_types_and_malformed_secrets_are_refused(world: World) -> None:
    with pytest.raises(Invalid, match=r"types\.1"):
        webhooks.subscribe(
            world.services, world.actor, NewWebhook(URL, types=(VERDICT_REACHED, "heelmark.nonsense"))
        )
    with pytest.raises(Invalid, match="secret"):
        webhooks.subscribe(world.services, world.actor, NewWebhook(URL, secret="whsec_short"))


def test_secrets_do_not_lie_in_the_database_in_the_clear(world: World, tmp_path: Path) -> None:
    made = webhooks.subscribe(world.services, world.actor, NewWebhook(URL))
    world.services.database.dispose()
    stored = b"".join(path.read_bytes() for path in tmp_path.iterdir())
    assert made.secret.removeprefix("whsec_").encode() not in stored
    assert URL.encode() in stored
