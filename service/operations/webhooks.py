"""Use cases for webhook subscriptions of fleet systems."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from urllib.parse import urlsplit

from service.codes import AlarmCode
from service.operations.support.context import Actor, Services, tell
from service.operations.support.errors import Conflict, FieldError, Invalid, NotFound, Reason
from service.operations.support.events import ALARM_CLEARED, PUBLIC_TYPES, WEBHOOK_CHANGED
from service.outbound.addresses import ForbiddenTarget
from service.outbound.cloudevents import CloudEvent, ContentMode, message_id
from service.outbound.sender import Outcome
from service.outbound.signing import MalformedSecret, key_from_secret, secret_from_key
from service.store import alarms, events, webhooks
from service.store.paging import Page, PageRequest
from service.store.webhooks import Attempt, Webhook
from service.store.work import Work

BATCH = "heelmark.batch"
"""What the delivery log calls a message of several events."""
PING = "heelmark.webhook.pinged"
LARGEST_OVERLAP = timedelta(days=30)
MOST_SUBSCRIPTIONS = 100


@dataclass(frozen=True, slots=True)
class NewWebhook:
    """A subscription as asked for; without ``types`` it hears everything that is public."""

    url: str
    types: tuple[str, ...] = ()
    mode: ContentMode = ContentMode.BINARY
    description: str | None = None
    secret: str | None = None


@dataclass(frozen=True, slots=True)
class WithSecret:
    """A subscription with the secret that its receiver checks signatures with, told this once."""

    webhook: Webhook
    secret: str


def subscribe(services: Services, actor: Actor, new: NewWebhook) -> WithSecret:
    """
    Send every public event from now on to a URL.

    Raises
    ------
    Invalid
        When the URL is not an acceptable target, a type is unknown, or a given secret is malformed.
    Conflict
        When the organisation has too many subscriptions.
    """
    _known(new.types)
    _acceptable(services, new.url)
    secret = _given(new.secret) if new.secret else secret_from_key(services.new_secret().encode()[:64])
    at = services.now()
    with services.database.writing(actor.organisation_id) as work:
        if len(webhooks.page(work, PageRequest(MOST_SUBSCRIPTIONS)).items) == MOST_SUBSCRIPTIONS:
            raise Conflict([Reason("too-many", f"There are {MOST_SUBSCRIPTIONS} subscriptions already.")])
        webhook_id = webhooks.insert(
            work,
            at=at,
            position=events.newest_id(work),
            url=new.url,
            types=list(new.types or PUBLIC_TYPES),
            mode=new.mode.value,
            description=new.description,
            sealed_secret=services.post.seal.close(secret),
            created_by=actor.name,
        )
        _tell(work, actor, at, webhook_id, "subscribed", new.url)
        return WithSecret(by_id(work, webhook_id), secret)


def listed(services: Services, actor: Actor, request: PageRequest) -> Page[Webhook]:
    """Subscriptions, oldest first."""
    with services.database.reading(actor.organisation_id) as work:
        return webhooks.page(work, request)


def read(services: Services, actor: Actor, webhook_id: int) -> Webhook:
    """One subscription."""
    with services.database.reading(actor.organisation_id) as work:
        return by_id(work, webhook_id)


def unsubscribe(services: Services, actor: Actor, webhook_id: int) -> None:
    """Send nothing more; what was sent is forgotten with it."""
    at = services.now()
    with services.database.writing(actor.organisation_id) as work:
        webhook = by_id(work, webhook_id)
        clear_alarm(work, actor, at, webhook_id)
        webhooks.delete(work, webhook_id)
        _tell(work, actor, at, webhook_id, "unsubscribed", webhook.url)


def rotate_secret(services: Services, actor: Actor, webhook_id: int, overlap: timedelta) -> WithSecret:
    """
    A new secret; until the overlap ends, messages carry signatures of both.

    Raises
    ------
    Invalid
        When the overlap is negative or longer than 30 days.
    """
    if not timedelta(0) <= overlap <= LARGEST_OVERLAP:
        hours = overlap.total_seconds() / 3600
        raise Invalid(FieldError("overlap_hours", hours, "from 0 to 720"))
    at = services.now()
    secret = secret_from_key(services.new_secret().encode()[:64])
    with services.database.writing(actor.organisation_id) as work:
        webhook = by_id(work, webhook_id)
        webhooks.change(
            work,
            webhook_id,
            sealed_secret=services.post.seal.close(secret),
            sealed_previous_secret=webhook.sealed_secret,
            previous_secret_until=at + overlap,
        )
        _tell(work, actor, at, webhook_id, "secret-rotated", webhook.url)
        return WithSecret(by_id(work, webhook_id), secret)


def enable(services: Services, actor: Actor, webhook_id: int, *, skip_missed: bool) -> Webhook:
    """Deliver again to a disabled subscription, from where it stopped or from now on."""
    at = services.now()
    with services.database.writing(actor.organisation_id) as work:
        webhook = by_id(work, webhook_id)
        _acceptable(services, webhook.url)
        webhooks.change(work, webhook_id, disabled_at=None, disabled_reason=None)
        position = events.newest_id(work) if skip_missed else webhook.position
        fresh = {"failures": 0, "failing_since": None, "due_at": at}
        webhooks.move_live_cursor(work, webhook_id, position=position, **fresh)
        clear_alarm(work, actor, at, webhook_id)
        _tell(work, actor, at, webhook_id, "enabled", webhook.url)
        return by_id(work, webhook_id)


def replay(services: Services, actor: Actor, webhook_id: int, start: datetime, end: datetime) -> int:
    """
    Send the public events of a period again, beside the newer ones; answers how many.

    Raises
    ------
    Invalid
        When the period is empty or reversed.
    Conflict
        When a replay is still under way, or the subscription is disabled.
    """
    if start >= end:
        raise Invalid(FieldError("to", end.isoformat(), f"later than {start.isoformat()}"))
    at = services.now()
    with services.database.writing(actor.organisation_id) as work:
        webhook = by_id(work, webhook_id)
        if webhook.disabled_at is not None:
            raise Conflict([Reason("webhook-disabled", "The subscription is disabled; enable it first.")])
        if webhooks.replaying(work, webhook_id):
            raise Conflict([Reason("replay-running", "A replay of this subscription is still under way.")])
        before, last, count = webhooks.span(work, webhook.types, start, end)
        if count:
            webhooks.add_cursor(work, webhook_id, kind="replay", position=before, last_event_id=last, at=at)
        _tell(work, actor, at, webhook_id, "replayed", webhook.url)
    return count


def ping(services: Services, actor: Actor, webhook_id: int) -> Outcome:
    """Send a test message now and tell what came of it; works on a disabled subscription too."""
    at = services.now()
    webhook = read(services, actor, webhook_id)
    event = CloudEvent(
        f"ping_{services.new_secret()[:24]}",
        services.post.source,
        PING,
        at,
        {"webhook": webhook_id},
        f"webhooks/{webhook_id}",
    )
    outcome = services.post.send(
        webhook.url, webhook.valid_secrets(at), ContentMode(webhook.mode), [event], at
    )
    with services.database.writing(actor.organisation_id) as work:
        if webhooks.by_id(work, webhook_id) is not None:
            note(work, webhook_id, [event], at, outcome)
    return outcome


def attempts(services: Services, actor: Actor, webhook_id: int, request: PageRequest) -> Page[Attempt]:
    """What was sent and what came of it, newest first."""
    with services.database.reading(actor.organisation_id) as work:
        by_id(work, webhook_id)
        return webhooks.attempts(work, request, webhook_id)


def note(work: Work, webhook_id: int, sent: Sequence[CloudEvent], at: datetime, outcome: Outcome) -> None:
    """Write an attempt into the delivery log, one line a message."""
    webhooks.log(
        work,
        webhook_id,
        message_id=message_id(sent),
        event_type=sent[0].type if len(sent) == 1 else BATCH,
        attempted_at=at,
        status=outcome.status,
        error=outcome.error and outcome.error[:300],
        duration_s=outcome.duration_s,
        excerpt=outcome.excerpt[:512].replace("\x00", ""),
    )


def clear_alarm(work: Work, actor: Actor, at: datetime, webhook_id: int) -> None:
    """The subscription works again or is gone: its alarm has no cause any more."""
    for alarm in alarms.open_ones(work):
        if alarm.code == AlarmCode.WEBHOOK_DISABLED and (alarm.details or {}).get("webhook") == webhook_id:
            alarms.clear(work, alarm.id, at)
            told = {"alarm": alarm.id, "code": AlarmCode.WEBHOOK_DISABLED, "webhook": webhook_id}
            tell(work, actor, at, ALARM_CLEARED, f"webhooks/{webhook_id}", told)


def by_id(work: Work, webhook_id: int) -> Webhook:
    """The subscription of that id, or ``NotFound``."""
    webhook = webhooks.by_id(work, webhook_id)
    if webhook is None:
        raise NotFound("webhook", webhook_id)
    return webhook


def _tell(work: Work, actor: Actor, at: datetime, webhook_id: int, change: str, url: str) -> None:
    # The host alone: a path or query may carry the receiver's own key.
    told = {"change": change, "host": urlsplit(url).hostname}
    tell(work, actor, at, WEBHOOK_CHANGED, f"webhooks/{webhook_id}", told)


def _known(types: Sequence[str]) -> None:
    faults = [
        FieldError(f"types.{place}", kind, f"one of {', '.join(PUBLIC_TYPES)}")
        for place, kind in enumerate(types)
        if kind not in PUBLIC_TYPES
    ]
    if faults:
        raise Invalid(*faults)


def _acceptable(services: Services, url: str) -> None:
    sender = services.post.sender
    try:
        sender.policy.target(url, sender.resolve)
    except ForbiddenTarget as error:
        raise Invalid(FieldError("url", url, f"a target that may be called: {error}")) from None
    except OSError:
        # A name that does not resolve today may do so tomorrow; every attempt checks again.
        return


def _given(secret: str) -> str:
    try:
        key_from_secret(secret)
    except MalformedSecret as error:
        raise Invalid(FieldError("secret", "…", f"whsec_ and base64 of 24 to 64 bytes: {error}")) from None
    return secret
