"""Schemas for triage: an inherited van, cylinder by cylinder."""

from collections.abc import Sequence
from dataclasses import dataclass

import marshmallow as ma
from marshmallow import validate

from service.api.http.answers import Answer, Listed
from service.api.http.fields import Matches, QueryWhole, Text, Truth, Within, listed
from service.api.http.strict import Strict
from service.api.schemas.common import SERIAL_PATTERN, place_name, serial
from service.cylinders.triage import Step
from service.operations.triage import Triaged
from service.store.paging import LARGEST_PAGE

AFTER = f"^[0-5]:{SERIAL_PATTERN.removeprefix('^')}"


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
    limit: int
    after: str | None


class TriageArgs(Strict):
    """Query of the triage list."""

    into = TriageQuery

    place = place_name(load_default=None)
    unfinished = Truth(load_default=True)
    limit = QueryWhole(load_default=LARGEST_PAGE, validate=Within(1, LARGEST_PAGE))
    after = Text(
        load_default=None,
        longest=70,
        validate=Matches(AFTER, "`next` of the page before"),
        metadata={"description": "`next` of the page before."},
    )


def read_after(text: str | None) -> tuple[int, str] | None:
    """Read how many steps the last one shown had done, and its serial."""
    if text is None:
        return None
    done, _, serial_shown = text.partition(":")
    return int(done), serial_shown


def written_after(order: tuple[int, str]) -> str:
    """Write it."""
    return f"{order[0]}:{order[1]}"


class TriagedSchema(Answer):
    """A cylinder and its next step."""

    of = Triaged
    inside = "progress"

    cylinder = Text(required=True, attribute="serial")
    place = Text(required=True, allow_none=True, attribute="place")
    done = ma.fields.List(Text(), required=True)
    next_step = Text(required=True, allow_none=True, metadata=listed(Step, or_null=True))
    text = Text(required=True, longest=2000)


class TriageSchema(Answer):
    """The list."""

    of = Listed

    items = ma.fields.List(ma.fields.Nested(TriagedSchema), required=True)
    next = Text(required=True, allow_none=True)
