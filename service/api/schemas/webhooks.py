"""Schemas for webhook subscriptions."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any, ClassVar

import marshmallow as ma
from marshmallow import validate

from service.api.http.answers import Answer
from service.api.http.fields import Among, Instant, Number, Text, Truth, Whole, Within, listed
from service.api.http.strict import Strict
from service.operations.support.events import PUBLIC_TYPES
from service.operations.webhooks import NewWebhook, WithSecret
from service.outbound.cloudevents import ContentMode
from service.outbound.sender import Outcome
from service.store.webhooks import Attempt, Webhook

MODES = ("binary", "structured")


class NewWebhookSchema(Strict):
    """A subscription to make."""

    into = NewWebhook

    url = Text(
        required=True,
        longest=2000,
        metadata={"description": "https, at a public address; no redirects are followed.", "format": "uri"},
    )
    types = ma.fields.List(
        Text(validate=Among(PUBLIC_TYPES)),
        load_default=(),
        validate=validate.Length(max=len(PUBLIC_TYPES)),
        metadata={
            "description": "Types of event to hear; every one when empty.",
            "maxItems": len(PUBLIC_TYPES),
        },
    )
    mode = Text(
        load_default="binary",
        validate=Among(MODES),
        metadata={"description": "CloudEvents content mode; `batched`: an array of up to 50 in order"},
    )
    description = Text(load_default=None, allow_none=True, longest=200)
    secret = Text(
        load_default=None,
        allow_none=True,
        longest=100,
        metadata={"description": "whsec_ and base64 of 24 to 64 bytes; made for you when not given."},
    )

    def built(self, loaded: Any) -> NewWebhook:
        """With the mode as what it stands for."""
        mode, types = ContentMode(loaded["mode"]), tuple(loaded["types"])
        made: NewWebhook = super().built({**loaded, "mode": mode, "types": types})
        return made


class WebhookSchema(Answer):
    """A subscription without its secret."""

    of: ClassVar[type] = Webhook

    id = Whole(required=True)
    url = Text(required=True)
    types = ma.fields.List(Text(), required=True)
    mode = Text(required=True, metadata=listed(MODES))
    description = Text(required=True, allow_none=True)
    created_at = Instant(required=True)
    created_by = Text(required=True)
    enabled = Truth(required=True)
    disabled_at = Instant(required=True, allow_none=True)
    disabled_reason = Text(required=True, allow_none=True)
    delivered_up_to = Whole(
        required=True,
        attribute="position",
        metadata={"description": "Number of the last event that was accepted or not asked for."},
    )
    failures = Whole(required=True, metadata={"description": "Failed attempts in a row."})
    failing_since = Instant(required=True, allow_none=True)
    next_attempt_at = Instant(required=True, allow_none=True)
    previous_secret_until = Instant(required=True, allow_none=True)


class WebhookWithSecretSchema(WebhookSchema):
    """A subscription with its secret, which is told this once."""

    of = WithSecret
    inside = "webhook"

    secret = Text(required=True)


@dataclass(frozen=True, slots=True)
class Rotation:
    """For how long both secrets sign [h]."""

    overlap_hours: float


class RotationSchema(Strict):
    """A secret to replace."""

    into = Rotation

    overlap_hours = Number(
        load_default=24.0,
        validate=Within(0, 720),
        metadata={"description": "For how long messages carry signatures of both secrets.", "maximum": 720},
    )


@dataclass(frozen=True, slots=True)
class Enabling:
    """How to go on."""

    skip_missed: bool


class EnablingSchema(Strict):
    """How to go on."""

    into = Enabling

    skip_missed = Truth(load_default=False, metadata={"description": "Begin with the next event."})


@dataclass(frozen=True, slots=True)
class Replay:
    """A period to send again."""

    start: datetime
    end: datetime


class ReplaySchema(Strict):
    """A period to send again."""

    into = Replay

    start = Instant(required=True, data_key="from")
    end = Instant(required=True, data_key="to")


@dataclass(frozen=True, slots=True)
class ReplayStarted:
    """What will be sent again."""

    events: int


class ReplayStartedSchema(Answer):
    """What will be sent again."""

    of = ReplayStarted

    events = Whole(required=True)


class OutcomeSchema(Answer):
    """What came of a test message."""

    of = Outcome

    accepted = Truth(required=True)
    status = Whole(required=True, allow_none=True)
    error = Text(required=True, allow_none=True)
    duration_s = Number(required=True)


class AttemptSchema(Answer):
    """One delivery that was tried."""

    of = Attempt

    id = Whole(required=True)
    message_id = Text(required=True)
    event_type = Text(required=True)
    attempted_at = Instant(required=True)
    status = Whole(required=True, allow_none=True)
    error = Text(required=True, allow_none=True)
    duration_s = Number(required=True)
    excerpt = Text(
        required=True,
        shortest=0,
        metadata={"description": "The beginning of what the receiver answered; empty if nothing."},
    )
