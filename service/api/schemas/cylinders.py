"""Schemas for cylinders."""

from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar, get_args

import marshmallow as ma
from marshmallow import validate

from service.api.http.answers import Answer
from service.api.http.fields import Among, Day, Instant, Text, Truth, Whole, Within, listed
from service.api.http.paging import PageArgs, Paged
from service.api.http.quantities import EitherUnit, Quantity, kilograms, mass, number, pounds
from service.api.schemas.common import place_name, serial
from service.api.schemas.verdicts import MASS_KG, MASS_LB
from service.codes import Standing
from service.cylinders.requalification import Condition, Requalification, State
from service.cylinders.valves import Valve
from service.operations.cylinders import CylinderFields, NewCylinder
from service.store.cylinders import Cylinder

VALVES = get_args(Valve)


class CylinderFieldsSchema(EitherUnit):
    """What may be said of a cylinder when it is registered or corrected."""

    into: ClassVar[type] = CylinderFields
    either = (mass("water_capacity"), mass("tare"), mass("gross_mass"))

    place = place_name(allow_none=True)
    marks = Text(longest=200, allow_none=True, metadata={"description": "as stamped, such as DOT-4BA400"})
    requalification_stamp = Text(longest=64, allow_none=True)
    water_capacity_kg = number(Within(0.01, 5000), allow_none=True)
    water_capacity_lb = number(Within(0.02, 11_000), allow_none=True)
    tare_kg = number(MASS_KG, allow_none=True)
    tare_lb = number(MASS_LB, allow_none=True)
    gross_mass_kg = number(MASS_KG, allow_none=True)
    gross_mass_lb = number(MASS_LB, allow_none=True)
    valves = ma.fields.List(Text(validate=Among(VALVES)), allow_none=True, validate=validate.Length(max=4))
    owner = Text(longest=120, allow_none=True)
    owner_consents = Truth(allow_none=True, metadata={"description": "to filling, 49 CFR 173.301(e)"})
    flammable_marked = Truth(metadata={"description": "marked and fitted for flammable refrigerant"})
    requalification_condition = Text(
        allow_none=True,
        validate=Among([str(one) for one in Condition]),
        metadata={"description": "a longer period than five years, on the owner's statement"},
    )
    requalification_statement = Text(longest=1000, allow_none=True)
    requalify_by = Day(allow_none=True, metadata={"description": "where the cylinder states its due date"})
    service_life_ends = Day(allow_none=True)
    notes = Text(longest=2000, allow_none=True)
    claimed_designation = Text(longest=40, allow_none=True, metadata={"description": "what the label says"})
    confirmed = Truth(metadata={"description": "what was asked back about is right as stated"})


class NewCylinderSchema(CylinderFieldsSchema):
    """A cylinder to register; its serial alone is enough."""

    into = NewCylinder

    serial = serial(required=True)
    evacuated = Truth(metadata={"description": "delivered evacuated"})


class RequalificationStateSchema(Answer):
    """Where it stands against its requalification date."""

    of = Requalification

    state = Text(required=True, metadata=listed(State))
    due_on = Day(required=True, allow_none=True)
    source = Text(required=True, attribute="rule.citation")


@dataclass(frozen=True, slots=True)
class Shown:
    """A cylinder, and where it stands against its requalification date."""

    cylinder: Cylinder
    requalification: Requalification


class CylinderSchema(Answer):
    """A cylinder as registered."""

    of = Shown
    inside = "cylinder"

    serial = Text(required=True)
    place = Text(required=True, allow_none=True)
    marks = Text(required=True, allow_none=True)
    requalification_stamp = Text(required=True, allow_none=True)
    water_capacity_kg = Quantity(kilograms, "water_capacity_kg", required=True, allow_none=True)
    water_capacity_lb = Quantity(pounds, "water_capacity_kg", required=True, allow_none=True)
    tare_kg = Quantity(kilograms, "tare_kg", required=True, allow_none=True)
    tare_lb = Quantity(pounds, "tare_kg", required=True, allow_none=True)
    gross_mass_kg = Quantity(kilograms, "gross_mass_kg", required=True, allow_none=True)
    gross_mass_lb = Quantity(pounds, "gross_mass_kg", required=True, allow_none=True)
    gross_mass_at = Instant(required=True, allow_none=True)
    net_mass_kg = Quantity(kilograms, "net_mass_kg", required=True, allow_none=True)
    net_mass_lb = Quantity(pounds, "net_mass_kg", required=True, allow_none=True)
    valves = ma.fields.List(Text(), required=True, allow_none=True)
    owner = Text(required=True, allow_none=True)
    owner_consents = Truth(required=True, allow_none=True)
    flammable_marked = Truth(required=True)
    standing = Text(required=True, metadata=listed(Standing))
    requalification_condition = Text(required=True, allow_none=True)
    requalification_statement = Text(required=True, allow_none=True)
    requalify_by = Day(required=True, allow_none=True)
    service_life_ends = Day(required=True, allow_none=True)
    requalification = ma.fields.Nested(RequalificationStateSchema, required=True)
    notes = Text(required=True, allow_none=True)
    claimed_designation = Text(required=True, allow_none=True)
    epoch = Whole(required=True)
    version = Whole(required=True)
    created_at = Instant(required=True)
    updated_at = Instant(required=True)


@dataclass(frozen=True, slots=True)
class CylinderQuery(Paged):
    """Which cylinders to list."""

    place: str | None
    claimed_designation: str | None
    updated_since: datetime | None


class CylinderArgs(PageArgs):
    """Query of the list of cylinders."""

    into = CylinderQuery

    place = place_name(load_default=None)
    claimed_designation = Text(longest=40, load_default=None)
    updated_since = Instant(
        load_default=None,
        metadata={
            "description": "only those that were changed at or after it; ask from a minute before the last "
            "time, because what is written at one moment may be seen a little later"
        },
    )
