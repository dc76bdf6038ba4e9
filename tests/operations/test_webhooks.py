"""Use cases of subscriptions: secrets, log, ping, refusals, ownership."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from service.operations import webhooks
from service.operations.support.context import Actor
from service.operations.support.errors import Invalid, NotFound
from service.operations.support.events import VERDICT_REACHED
from service.operations.webhooks import NewWebhook
from service.outbound.sender import Outcome
from service.store.paging import PageRequest
from tests.support.delivery import URL, World


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
