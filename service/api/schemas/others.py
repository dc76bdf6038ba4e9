"""Schemas for places, alarms and tokens."""

from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar

import marshmallow as ma
from marshmallow.validate import Length

from service.api.http.answers import Answer, Listed
from service.api.http.fields import Among, Instant, Number, Text, Truth, Whole, listed
from service.api.http.paging import OfCylinder, PageArgs
from service.api.http.quantities import ELEVATION_M, number
from service.api.http.strict import Strict
from service.api.schemas.common import device_name, place_name, serial
from service.codes import AlarmCode, PlaceKind, Severity
from service.cylinders.books import BOOKS
from service.cylinders.judgement.causes import Kind
from service.operations.places import PlaceChange
from service.operations.support.context import SCOPES
from service.operations.tokens import NewToken
from service.store.alarms import Alarm
from service.store.places import Place
from service.store.tokens import Token

KINDS: tuple[str, ...] = tuple(PlaceKind)


@dataclass(frozen=True, slots=True)
class NewPlace:
    """A place to make [m]."""

    name: str
    kind: str
    elevation_m: float | None


class NewPlaceSchema(Strict):
    """A place to make."""

    into = NewPlace

    name = place_name(required=True)
    kind = Text(validate=Among(KINDS), load_default="site")
    elevation_m = number(ELEVATION_M, allow_none=True, load_default=None)


class PlaceChangeSchema(Strict):
    """What may be corrected of a place."""

    into = PlaceChange

    elevation_m = number(ELEVATION_M, allow_none=True)
    rule_book = Text(
        allow_none=True, validate=Among(tuple(BOOKS)), metadata={"description": "null: the organisation's"}
    )


class PlaceSchema(Answer):
    """A shop, van or site."""

    of = Place

    name = Text(required=True)
    kind = Text(required=True, metadata=listed(KINDS))
    elevation_m = Number(required=True, allow_none=True)
    rule_book = Text(required=True, allow_none=True)
    created_at = Instant(required=True)


@dataclass(frozen=True, slots=True)
class AlarmQuery(OfCylinder):
    """Which alarms to list."""

    open: bool | None
    standing: bool
    place: str | None
    code: str | None


class AlarmArgs(PageArgs):
    """Query of the list of alarms."""

    into = AlarmQuery

    open = Truth(load_default=None, metadata={"description": "only those not cleared yet; the usual"})
    standing = Truth(
        load_default=True, metadata={"description": "as `open`, for clients of the first version"}
    )
    cylinder = serial(load_default=None)
    place = place_name(load_default=None)
    code = Text(longest=32, load_default=None)


class AlarmSchema(Answer):
    """What a supervisor must see."""

    of = Alarm

    id = Whole(required=True)
    code = Text(required=True, metadata=listed((*Kind, *AlarmCode)))
    severity = Text(required=True, metadata=listed(Severity))
    cylinder = Text(required=True, allow_none=True)
    device = Text(required=True, allow_none=True)
    text = Text(required=True, longest=2000)
    details = ma.fields.Dict(
        required=True, allow_none=True, metadata={"description": "figures in SI, named with their units"}
    )
    raised_at = Instant(required=True)
    cleared_at = Instant(required=True, allow_none=True)
    acknowledged_at = Instant(required=True, allow_none=True)
    acknowledged_by = Text(required=True, allow_none=True)


@dataclass(frozen=True, slots=True)
class TokenBody:
    """A token to make."""

    name: str
    scope: str
    expires_at: datetime | None
    places: list[str] | None
    device: str | None


class NewTokenSchema(Strict):
    """A token to make."""

    into = TokenBody

    name = Text(required=True, longest=80)
    scope = Text(required=True, validate=Among(SCOPES))
    expires_at = Instant(load_default=None)
    places = ma.fields.List(place_name(), load_default=None, allow_none=True, validate=Length(min=1, max=100))
    device = device_name(
        load_default=None,
        metadata={"description": "the only device that a gateway's token posts readings of"},
    )


class TokenSchema(Answer):
    """A token without its secret."""

    of: ClassVar[type] = Token

    id = Whole(required=True)
    name = Text(required=True)
    scope = Text(required=True, metadata=listed(SCOPES))
    created_at = Instant(required=True)
    expires_at = Instant(required=True, allow_none=True)
    revoked_at = Instant(required=True, allow_none=True)
    last_used_at = Instant(required=True, allow_none=True)
    places = ma.fields.List(Text(), required=True, allow_none=True)
    device = Text(
        required=True, allow_none=True, metadata={"description": "the only device that it posts readings of"}
    )


class MadeTokenSchema(TokenSchema):
    """A token with its secret, which is told this once."""

    of = NewToken
    inside = "token"

    secret = Text(required=True)


class TokenListSchema(Answer):
    """Every token of the organisation."""

    of = Listed

    items = ma.fields.List(ma.fields.Nested(TokenSchema), required=True)
    next = Text(required=True, allow_none=True)
