"""Schemas for triage: an inherited van, cylinder by cylinder."""

from collections.abc import Sequence
from dataclasses import dataclass

import marshmallow as ma
from marshmallow import validate

from service.api.http.answers import Answer, Listed
from service.api.http.fields import Text, Truth, listed
from service.api.http.strict import Strict
from service.api.schemas.common import place_name, serial
from service.cylinders.triage import Step
from service.operations.triage import Triaged


@dataclass(frozen=True, slots=True)
class TriageBody:
    """Cylinders of an inherited van."""

    serials: Sequence[str]
    place: str | None


class TriageSchemaIn(Strict):
    """Cylinders of an inherited van, by serial alone."""

    into = TriageBody

    serials = ma.fields.List(serial(), required=True, validate=validate.Length(1, 200))
    place = place_name(load_default=None)


@dataclass(frozen=True, slots=True)
class TriageQuery:
    """Which cylinders to list."""

    place: str | None
    unfinished: bool


class TriageArgs(Strict):
    """Query of the triage list."""

    into = TriageQuery

    place = place_name(load_default=None)
    unfinished = Truth(load_default=True)


class TriagedSchema(Answer):
    """A cylinder and its next step."""

    of = Triaged
    inside = "progress"

    cylinder = Text(required=True, attribute="cylinder.serial")
    place = Text(required=True, allow_none=True, attribute="cylinder.place")
    done = ma.fields.List(Text(), required=True)
    next_step = Text(required=True, allow_none=True, metadata=listed(Step, or_null=True))
    text = Text(required=True, longest=2000)


class TriageSchema(Answer):
    """The list."""

    of = Listed

    items = ma.fields.List(ma.fields.Nested(TriagedSchema), required=True)
    next = Text(required=True, allow_none=True)
