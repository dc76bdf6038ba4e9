"""Schemas for mappings of foreign messages."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

import marshmallow as ma

from service.api.http.answers import Answer
from service.api.http.fields import Instant, Number, Text, Whole
from service.api.http.strict import Strict
from service.mappings.trial import TrialReading
from service.store.mappings import StoredMapping
from service.units import READING_UNITS

DESCRIBED = {
    "description": "name, topic, each, device, place, time and value, as a [[mapping]] of the handbook has them"
}


class StoredMappingSchema(Answer):
    """One version of a mapping."""

    of = StoredMapping

    name = Text(required=True)
    version = Whole(required=True, metadata={"description": "counts from 1"})
    mapping = ma.fields.Dict(required=True, allow_none=True, attribute="document", metadata=DESCRIBED)
    saved_at = Instant(required=True)
    saved_by = Text(required=True)


@dataclass(frozen=True, slots=True)
class MappingBody:
    """A mapping as posted; what is in it is checked by the use case."""

    mapping: dict[str, Any]


class MappingSchemaIn(Strict):
    """A mapping to keep."""

    into = MappingBody

    mapping = ma.fields.Dict(required=True, keys=Text(longest=40), metadata=DESCRIBED)


@dataclass(frozen=True, slots=True)
class TrialBody:
    """A mapping, and a message to try it on."""

    mapping: dict[str, Any]
    topic: str
    message: Any


class MappingTrialSchema(Strict):
    """A mapping, and a message to try it on."""

    into = TrialBody

    mapping = ma.fields.Dict(required=True, keys=Text(longest=40), metadata=DESCRIBED)
    topic = Text(required=True, longest=400)
    message = ma.fields.Raw(
        required=True, allow_none=True, metadata={"description": "the message, decoded: any JSON"}
    )


@dataclass(frozen=True, slots=True)
class TrialTold:
    """What would be read, and what would be refused."""

    readings: Sequence[TrialReading]
    faults: Sequence[str]


class TrialReadingSchema(Answer):
    """One value as it would be read."""

    of = TrialReading

    device = Text(required=True)
    place = Text(required=True)
    quantity = Text(required=True)
    value = Number(required=True)
    unit = ma.fields.Function(
        lambda one: READING_UNITS[one.quantity], required=True, metadata={"type": "string"}
    )
    at = ma.fields.Function(lambda one: _instant(one.stamp_s), required=True, metadata={"type": "string"})


def _instant(stamp_s: float) -> str:
    return datetime.fromtimestamp(stamp_s, UTC).isoformat().replace("+00:00", "Z")


class TrialSchema(Answer):
    """What would be read, and what would be refused."""

    of = TrialTold

    readings = ma.fields.List(ma.fields.Nested(TrialReadingSchema), required=True)
    faults = ma.fields.List(Text(), required=True)
