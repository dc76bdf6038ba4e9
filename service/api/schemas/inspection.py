"""Schemas for what inspectors ask of: reclaimers, acceptance, appliances, custody."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

import marshmallow as ma

from service.api.http.answers import Answer, Listed
from service.api.http.fields import Among, Day, Instant, Text, Truth, Whole, listed
from service.api.http.paging import PageArgs, Paged
from service.api.http.quantities import EitherUnit, Quantity, kilograms, mass, number, pounds
from service.api.http.strict import Strict
from service.api.schemas.common import place_name, serial
from service.api.schemas.verdicts import MASS_KG, MASS_LB
from service.cylinders.appliances import Kind, Method
from service.operations.appliances import WORKS, LeakStatus, NewAppliance
from service.store.appliances import Appliance, ApplianceWork
from service.store.custody import Custody
from service.store.reclaimers import Acceptance, Reclaimer


@dataclass(frozen=True, slots=True)
class ReclaimerBody:
    """What is known of a reclaimer."""

    address: str
    certification_number: str | None


class ReclaimerSchemaIn(Strict):
    """What is known of a reclaimer."""

    into = ReclaimerBody

    address = Text(required=True, longest=300)
    certification_number = Text(longest=80, load_default=None, allow_none=True)


class ReclaimerSchema(Answer):
    """A reclaimer or destruction facility."""

    of = Reclaimer

    name = Text(required=True)
    address = Text(required=True)
    certification_number = Text(required=True, allow_none=True)
    updated_at = Instant(required=True)
    updated_by = Text(required=True)


class ReclaimerListSchema(Answer):
    """Every reclaimer."""

    of = Listed

    items = ma.fields.List(ma.fields.Nested(ReclaimerSchema), required=True)
    next = Text(required=True, allow_none=True)


@dataclass(frozen=True, slots=True)
class AcceptanceBody:
    """What the receiver weighed [kg]."""

    net_mass_kg: float
    lot: str | None = None
    at: datetime | None = None
    note: str | None = None


class AcceptanceSchemaIn(EitherUnit):
    """What the receiver weighed."""

    into = AcceptanceBody
    either = (mass("net_mass", required=True),)

    net_mass_kg = number(MASS_KG)
    net_mass_lb = number(MASS_LB)
    lot = Text(longest=80)
    at = Instant()
    note = Text(longest=1000)


class AcceptanceSchema(Answer):
    """An acceptance."""

    of = Acceptance

    exchange = Whole(required=True, attribute="exchange_id")
    net_mass_kg = Quantity(kilograms, "net_kg", required=True)
    net_mass_lb = Quantity(pounds, "net_kg", required=True)
    lot = Text(required=True, allow_none=True)
    accepted_at = Instant(required=True)
    recorded_at = Instant(required=True)
    recorded_by = Text(required=True)
    note = Text(required=True, allow_none=True)


class ApplianceSchemaIn(EitherUnit):
    """Equipment to register, named as transfers name it."""

    into = NewAppliance
    either = (mass("full_charge", required=True),)

    owner = Text(longest=120)
    location = Text(required=True, longest=200)
    name = Text(required=True, longest=120)
    circuit = Text(longest=80)
    refrigerant = Text(required=True, longest=60)
    full_charge_kg = number(MASS_KG)
    full_charge_lb = number(MASS_LB)
    kind = Text(required=True, validate=Among(tuple(str(kind) for kind in Kind)))
    leak_method = Text(
        load_default=str(Method.ANNUALIZED), validate=Among(tuple(str(method) for method in Method))
    )


class Named(Text):
    """A name that may be empty inside, which is null outside."""

    def _serialize(self, value: Any, attr: str | None, obj: Any, **kwargs: Any) -> str | None:
        return super()._serialize(value or None, attr, obj, **kwargs)


class ApplianceSchema(Answer):
    """Equipment."""

    of = Appliance

    id = Whole(required=True)
    owner = Named(required=True, allow_none=True)
    location = Text(required=True)
    name = Text(required=True)
    circuit = Named(required=True, allow_none=True)
    designation = Text(required=True)
    full_charge_kg = Quantity(kilograms, "full_charge_kg", required=True)
    full_charge_lb = Quantity(pounds, "full_charge_kg", required=True)
    kind = Text(required=True, metadata=listed(Kind))
    leak_method = Text(required=True, metadata=listed(Method))
    created_at = Instant(required=True)


@dataclass(frozen=True, slots=True)
class WorkBody:
    """What was done on an appliance."""

    kind: str
    passed: bool | None
    technician: str | None
    note: str | None
    at: datetime | None


class WorkSchemaIn(Strict):
    """What was done on an appliance."""

    into = WorkBody

    kind = Text(required=True, validate=Among(WORKS))
    passed = Truth(allow_none=True, load_default=None)
    technician = Text(longest=120, load_default=None)
    note = Text(longest=1000, load_default=None)
    at = Instant(load_default=None)


class WorkSchema(Answer):
    """An inspection, a repair or a verification."""

    of = ApplianceWork

    kind = Text(required=True, metadata=listed(WORKS))
    passed = Truth(required=True, allow_none=True)
    technician = Text(required=True, allow_none=True)
    note = Text(required=True, allow_none=True)
    occurred_at = Instant(required=True)
    recorded_by = Text(required=True)


def _percent(share: float) -> float:
    return 100.0 * share


def _rounded_percent(share: float) -> float:
    return round(100.0 * share, 3)


class LeakRateSchema(Answer):
    """How an appliance stands."""

    of = LeakStatus
    inside = "rate"

    appliance = ma.fields.Nested(ApplianceSchema, required=True)
    on = Day(required=True)
    method = Text(metadata=listed(Method), required=True)
    leak_rate_percent = Quantity(_rounded_percent, "rate.rate", required=True)
    trigger_percent = Quantity(_percent, "rate.trigger", required=True)
    added_kg = Quantity(kilograms, "added_kg", required=True)
    added_lb = Quantity(pounds, "added_kg", required=True)
    repair_by = Day(required=True, allow_none=True)
    chronic_years = ma.fields.List(Whole(), required=True)
    rule = Text(
        attribute="citation",
        required=True,
        allow_none=True,
        metadata={"description": "null: under no leak rule known here"},
    )
    works = ma.fields.List(ma.fields.Nested(WorkSchema), required=True)


@dataclass(frozen=True, slots=True)
class CustodyBody:
    """A cylinder for somebody's hands."""

    cylinder: str
    holder: str
    due_on: date | None
    note: str | None


class CustodySchemaIn(Strict):
    """A cylinder for somebody's hands."""

    into = CustodyBody

    cylinder = serial(required=True)
    holder = place_name(required=True)
    due_on = Day(load_default=None, allow_none=True)
    note = Text(longest=1000, load_default=None)


@dataclass(frozen=True, slots=True)
class CustodyQuery(Paged):
    """Which of them to list."""

    out: bool


class CustodyArgs(PageArgs):
    """Query of the list."""

    into = CustodyQuery

    out = Truth(load_default=True, metadata={"description": "only what is not back yet"})


@dataclass(frozen=True, slots=True)
class InHands:
    """A cylinder in somebody's hands, and whether it should be back."""

    entry: Custody
    overdue: bool


class CustodySchema(Answer):
    """A cylinder in somebody's hands."""

    of = InHands
    inside = "entry"

    id = Whole(required=True)
    cylinder = Text(required=True)
    holder = Text(required=True)
    since = Instant(required=True)
    due_on = Day(required=True, allow_none=True)
    overdue = Truth(required=True)
    returned_at = Instant(required=True, allow_none=True)
    note = Text(required=True, allow_none=True)
    recorded_by = Text(required=True)
