"""The deliverer over real sockets: one connection for many messages, batches in order, refusals as a whole."""

import json
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from service.operations import webhooks
from service.operations.deliveries import Deliverer
from service.operations.webhooks import NewWebhook
from service.outbound.addresses import AddressPolicy
from service.outbound.cloudevents import ContentMode
from service.outbound.sender import Outcome, Sender
from service.store.paging import PageRequest
from tests.support.delivery import World, delivery_world
from tests.support.far_receiver import far_receiver


@pytest.fixture
def world(tmp_path: Path) -> Iterator[World]:
    with delivery_world(tmp_path) as world:
        yield world


def over_sockets(world: World, url: str, mode: ContentMode) -> Deliverer:
    sender = Sender(AddressPolicy(frozenset({"127.0.0.1"})))
    services = replace(world.services, post=replace(world.services.post, sender=sender))
    webhooks.subscribe(services, world.actor, NewWebhook(url, mode=mode))
    return Deliverer(services, "one", lambda: 0.5)


def deliver(deliverer: Deliverer) -> None:
    with ThreadPoolExecutor(1) as pool:
        deliverer.round(pool)


def test_many_messages_go_over_one_connection(world: World) -> None:
    with far_receiver(0.0) as heard:
        deliverer = over_sockets(world, heard.url, ContentMode.BINARY)
        happened = world.happen(70)
        deliver(deliverer)
    assert heard.sequences == happened
    assert (heard.messages, heard.connections) == (70, 1)


def test_batches_go_in_order_over_one_connection(world: World) -> None:
    with far_receiver(0.0) as heard:
        deliverer = over_sockets(world, heard.url, ContentMode.BATCHED)
        happened = world.happen(120)
        deliver(deliverer)
    assert heard.sequences == happened
    assert (heard.messages, heard.connections) == (3, 1)


def test_a_connection_that_the_receiver_closed_is_no_failure(world: World) -> None:
    with far_receiver(0.0, most_a_connection=7) as heard:
        deliverer = over_sockets(world, heard.url, ContentMode.BINARY)
        happened = world.happen(30)
        deliver(deliverer)
    # At least once: what was on its way when the line closed may come again, under the id that it had.
    assert sorted(set(heard.sequences)) == happened
    assert heard.connections >= 4
    (webhook,) = webhooks.listed(world.services, world.actor, PageRequest()).items
    assert webhook.failures == 0


def test_a_refused_batch_comes_again_as_a_whole_and_holds_up_what_follows(world: World) -> None:
    world.subscribe(mode=ContentMode.BATCHED)
    world.happen(60)
    world.receiver.answers = [Outcome(200), Outcome(503, "answered 503", timedelta(minutes=1))]
    world.deliver()
    assert world.deliver() == 0
    world.happen(3)
    world.later(minutes=1)
    world.deliver()
    told = [[int(one["sequence"]) for one in json.loads(body)] for _, _, body in world.receiver.got]
    first = told[0][0]
    assert told == [
        [*range(first, first + 50)],
        [*range(first + 50, first + 60)],
        [*range(first + 50, first + 63)],
    ]
    ids = [headers["webhook-id"] for _, headers, _ in world.receiver.got]
    assert ids[0] == f"evt_{first}-evt_{first + 49}"
    (webhook,) = webhooks.listed(world.services, world.actor, PageRequest()).items
    log = webhooks.attempts(world.services, world.actor, webhook.id, PageRequest()).items
    assert [one.event_type for one in log] == ["heelmark.batch"] * 3


def test_a_ping_of_a_batched_subscription_is_a_batch_of_one(world: World) -> None:
    webhook_id = world.subscribe(mode=ContentMode.BATCHED)
    assert webhooks.ping(world.services, world.actor, webhook_id).accepted
    ((_, headers, body),) = world.receiver.got
    (one,) = json.loads(body)
    assert one["id"] == headers["webhook-id"]
