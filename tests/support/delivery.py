"""A world with a receiver instead of the network, and a clock of our own."""

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import sqlalchemy as sa

from service.operations import webhooks
from service.operations.deliveries import Deliverer
from service.operations.support.context import Actor, Services, tell
from service.operations.support.events import CYLINDER_CHANGED
from service.operations.webhooks import NewWebhook
from service.outbound.addresses import AddressPolicy
from service.outbound.backoff import Backoff
from service.outbound.post import Post
from service.outbound.secret_encryption import Seal
from service.outbound.sender import Outcome
from service.store.database import Database
from service.store.surroundings import Surroundings
from service.store.tables import events, organisations
from tests.support.databases import fresh_sqlite

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

    @contextmanager
    def line(self) -> Iterator["Receiver"]:
        yield self

    @property
    def ids(self) -> list[str]:
        return [headers["webhook-id"] for _, headers, _ in self.got]


@dataclass
class World:
    """Services, the receiver, who acts, and the time."""

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


@contextmanager
def delivery_world(folder: Path) -> Iterator[World]:
    """A fresh one."""
    database = Database(fresh_sqlite(folder))
    with database.unowned() as connection:
        made = sa.insert(organisations).values(name="home", created_at=START).returning(organisations.c.id)
        owner = connection.execute(made).scalar_one()
    receiver, clock = Receiver(), [START]
    secrets = iter(f"a secret of the tests, number {n:08d}" for n in range(1000))
    services = Services(
        database=database,
        catalogue=None,
        curves=None,
        knowledge=None,
        judge=None,
        policy=None,
        now=lambda: clock[0],
        new_secret=lambda: next(secrets),
        post=Post(receiver, Seal("k" * 40), Backoff(), "https://heelmark.example"),
        surroundings=Surroundings(folder),
    )
    yield World(services, receiver, Actor(owner, "person:rosa", "supervisor"), clock)
    database.dispose()


def message_ids(numbers: list[int]) -> list[str]:
    return [f"evt_{number}" for number in numbers]
