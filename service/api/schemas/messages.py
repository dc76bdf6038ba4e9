"""Schemas for readings that come over HTTP."""

import base64
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

import marshmallow as ma
from marshmallow import validate

from service.api.http.answers import Answer
from service.api.http.fields import LARGEST_ID, Instant, QueryWhole, Text, Whole, Within
from service.api.http.strict import Strict
from service.api.schemas.common import device_name, place_name
from service.store.messages import Message

MOST_AT_ONCE = 200
LONGEST_BASE64 = 1_400_000_000
"""Of the largest body that can be set, as base64."""


@dataclass(frozen=True, slots=True)
class ReadingsQuery:
    """What readings are from, and what reads them."""

    place: str | None
    device: str | None
    mapping: str | None


class ReadingsArgs(Strict):
    """Query of posted readings."""

    into = ReadingsQuery

    place = place_name(load_default=None, metadata={"example": "shop"})
    device = device_name(load_default=None)
    mapping = Text(
        longest=64,
        load_default=None,
        metadata={"description": "the mapping that reads the body; none for SenML"},
    )


@dataclass(frozen=True, slots=True)
class Taken:
    """Readings that are kept for the worker."""

    message: int


class TakenSchema(Answer):
    """Readings that are kept for the worker; what it cannot read is among what was not understood."""

    of = Taken

    message = Whole(required=True, metadata={"description": "its number"})


@dataclass(frozen=True, slots=True)
class WaitingQuery:
    """Which messages the worker fetches."""

    places: str | None
    limit: int


class WaitingArgs(Strict):
    """Query of waiting messages."""

    into = WaitingQuery

    places = Text(
        longest=4000, load_default=None, metadata={"description": "only of these places, with commas between"}
    )
    limit = QueryWhole(load_default=100, validate=Within(1, MOST_AT_ONCE))


@dataclass(frozen=True, slots=True)
class Waiting:
    """A message as the worker fetches it."""

    kept: Message

    @property
    def id(self) -> int:
        """Its number."""
        return self.kept.id

    @property
    def received_at(self) -> datetime:
        """When it came."""
        return self.kept.received_at

    @property
    def payload_base64(self) -> str:
        """Its bytes, as text."""
        return base64.b64encode(self.kept.payload).decode()


class WaitingMessageSchema(Answer):
    """A message as the worker fetches it."""

    of = Waiting
    inside = "kept"

    id = Whole(required=True)
    place = Text(required=True)
    device = Text(required=True)
    topic = Text(required=True, allow_none=True)
    mapping = Text(
        required=True, allow_none=True, metadata={"description": "the mapping that reads it; null for SenML"}
    )
    payload_base64 = Text(required=True, longest=LONGEST_BASE64)
    received_at = Instant(required=True)


@dataclass(frozen=True, slots=True)
class LetGo:
    """Messages that the worker has in its own file."""

    messages: Sequence[int]


class LetGoSchema(Strict):
    """Messages that the worker has in its own file."""

    into = LetGo

    messages = ma.fields.List(
        Whole(validate=Within(1, LARGEST_ID)),
        required=True,
        validate=validate.Length(max=MOST_AT_ONCE),
        metadata={"description": "their numbers"},
    )
