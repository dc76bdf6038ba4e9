"""Schemas for mappings of foreign messages."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

import marshmallow as ma

from service.api.http.answers import Answer, page_of
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


StoredMappingPageSchema = page_of(StoredMappingSchema)


@dataclass(frozen=True, slots=True)
class MappingBody:
    """A mapping as posted; what is in it is checked by the use case."""

    mapping: Mapping[str, object]


class MappingSchemaIn(Strict):
    """A mapping to keep."""

    into = MappingBody

    mapping = ma.fields.Dict(required=True, keys=Text(longest=40), metadata=DESCRIBED)


@dataclass(frozen=True, slots=True)
class TrialBody:
    """A mapping, and a message to try it on."""

    mapping: Mapping[str, object]
    topic: str
    message: object | None


class MappingTrialSchema(Strict):
    """A mapping, and a message to try it on."""

    into = TrialBody

    mapping = ma.fields.Dict(required=True, keys=Text(longest=40), metadata=DESCRIBED)
    topic = Text(required=True, longest=400)
    message = ma.fields.Raw(
        required=True, allow_none=True, metadata={"description": "the message, decoded: any JSON"}
    )


@dataclass(frozen=True, slots=True)
class TrialValue:
    """One value as it would be read, with its unit and time."""

    reading: TrialReading

    @property
    def unit(self) -> str:
        """What its value is in."""
        return READING_UNITS[self.reading.quantity]

    @property
    def at(self) -> datetime:
        """When it was measured."""
        return datetime.fromtimestamp(self.reading.stamp_s, UTC)


@dataclass(frozen=True, slots=True)
class TrialTold:
    """What would be read, and what would be refused."""

    readings: Sequence[TrialValue]
    faults: Sequence[str]


class TrialReadingSchema(Answer):
    """One value as it would be read."""

    of = TrialValue
    inside = "reading"

    device = Text(required=True)
    place = Text(required=True)
    quantity = Text(required=True)
    value = Number(required=True)
    unit = Text(required=True)
    at = Instant(required=True)


class TrialSchema(Answer):
    """What would be read, and what would be refused."""

    of = TrialTold

    readings = ma.fields.List(ma.fields.Nested(TrialReadingSchema), required=True)
    faults = ma.fields.List(Text(), required=True)
