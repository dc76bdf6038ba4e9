"""Several deliverers and writers at once, on both databases: nothing lost, nothing out of order."""

import threading
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import replace

from service.operations import webhooks
from service.operations.deliveries import Deliverer
from service.operations.support.context import Actor, Services, tell
from service.operations.support.events import CYLINDER_CHANGED, PAIR_RECORDED
from service.operations.webhooks import NewWebhook
from service.outbound.addresses import AddressPolicy
from service.outbound.backoff import Backoff
from service.outbound.post import Post
from service.outbound.secret_encryption import Seal
from service.outbound.sender import Outcome

WRITERS, EACH, DELIVERERS = 4, 15, 3


class Receiver:
    """Takes everything, and keeps the order."""

    total_timeout_s = 20.0
    policy = AddressPolicy()

    def __init__(self) -> None:
        self.got: list[int] = []
        self.lock = threading.Lock()
        self.full = threading.Event()

    def resolve(self, host: str, port: int) -> list[str]:
        return ["8.8.8.8"]

    @contextmanager
    def line(self) -> Iterator["Receiver"]:
        yield self

    def send(self, url: str, headers: dict[str, str], body: bytes) -> Outcome:
        with self.lock:
            self.got.append(int(headers["ce-sequence"]))
            if len(self.got) >= WRITERS * EACH:
                self.full.set()
        return Outcome(204)


def write(services: Services, actor: Actor, together: threading.Barrier) -> None:
    together.wait()
    for turn in range(EACH):
        with services.database.writing(actor.organisation_id) as work:
            for kind in (PAIR_RECORDED, CYLINDER_CHANGED):
                tell(work, actor, services.now(), kind, "cylinders/HM-1", {"turn": turn})


def deliver(services: Services, holder: str, together: threading.Barrier, over: threading.Event) -> None:
    deliverer = Deliverer(services, holder, lambda: 0.0)
    together.wait()
    with ThreadPoolExecutor(2) as pool:
        while not over.is_set():
            deliverer.round(pool)


def test_events_written_and_delivered_at_the_same_time_arrive_once_and_in_order(
    any_services: Services, any_actor: Actor
) -> None:
    receiver = Receiver()
    post = Post(receiver, Seal("k" * 40), Backoff(), "https://heelmark.example")
    services = replace(any_services, post=post)
    new = NewWebhook("https://fleet.example/", types=(CYLINDER_CHANGED,))
    webhooks.subscribe(services, any_actor, new)
    together, over = threading.Barrier(WRITERS + DELIVERERS), threading.Event()
    with ThreadPoolExecutor(WRITERS + DELIVERERS) as pool:
        busy = [pool.submit(deliver, services, f"d{n}", together, over) for n in range(DELIVERERS)]
        for written in [pool.submit(write, services, any_actor, together) for _ in range(WRITERS)]:
            written.result()
        receiver.full.wait(60)
        over.set()
        for done in busy:
            done.result()
    assert len(receiver.got) == WRITERS * EACH
    assert receiver.got == sorted(set(receiver.got))
