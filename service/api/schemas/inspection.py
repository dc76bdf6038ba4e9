"""Schemas for what inspectors ask of: reclaimers, acceptance, appliances, custody."""

import marshmallow as ma

from service.api.fields import Among, Day, Instant, Number, Text, Truth, Whole
from service.api.paging import PageArgs
from service.api.quantities import EitherUnit, mass, number
from service.api.schemas.common import place_name, serial
from service.api.schemas.verdicts import MASS_KG, MASS_LB
from service.api.strict import Strict
from service.cylinders.appliances import Kind, Method
from service.operations.appliances import WORKS


class ReclaimerSchemaIn(Strict):
    """What is known of a reclaimer."""

    address = Text(required=True, longest=300)
    certification_number = Text(longest=80, load_default=None, allow_none=True)


class ReclaimerSchema(ma.Schema):
    """A reclaimer or destruction facility."""

    name = Text(required=True)
    address = Text(required=True)
    certification_number = Text(required=True, allow_none=True)
    updated_at = Instant(required=True)
    updated_by = Text(required=True)


class ReclaimerListSchema(ma.Schema):
    """Every reclaimer."""

    items = ma.fields.List(ma.fields.Nested(ReclaimerSchema), required=True)
    next = Text(required=True, allow_none=True)


class AcceptanceSchemaIn(EitherUnit):
    """What the receiver weighed."""

    either = (mass("net_mass", required=True),)

    net_mass_kg = number(MASS_KG)
    net_mass_lb = number(MASS_LB)
    lot = Text(longest=80)
    at = Instant()
    note = Text(longest=1000)


class AcceptanceSchema(ma.Schema):
    """An acceptance."""

    exchange = Whole(required=True)
    net_mass_kg = Number(required=True)
    net_mass_lb = Number(required=True)
    lot = Text(required=True, allow_none=True)
    accepted_at = Instant(required=True)
    recorded_at = Instant(required=True)
    recorded_by = Text(required=True)
    note = Text(required=True, allow_none=True)


class ApplianceSchemaIn(EitherUnit):
    """Equipment to register, named as transfers name it."""

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


class ApplianceSchema(ma.Schema):
    """Equipment."""

    id = Whole(required=True)
    owner = Text(required=True, allow_none=True)
    location = Text(required=True)
    name = Text(required=True)
    circuit = Text(required=True, allow_none=True)
    designation = Text(required=True)
    full_charge_kg = Number(required=True)
    full_charge_lb = Number(required=True)
    kind = Text(required=True)
    leak_method = Text(required=True)
    created_at = Instant(required=True)


class WorkSchemaIn(Strict):
    """What was done on an appliance."""

    kind = Text(required=True, validate=Among(WORKS))
    passed = Truth(allow_none=True, load_default=None)
    technician = Text(longest=120, load_default=None)
    note = Text(longest=1000, load_default=None)
    at = Instant(load_default=None)


class WorkSchema(ma.Schema):
    """An inspection, a repair or a verification."""

    kind = Text(required=True)
    passed = Truth(required=True, allow_none=True)
    technician = Text(required=True, allow_none=True)
    note = Text(required=True, allow_none=True)
    occurred_at = Instant(required=True)
    recorded_by = Text(required=True)


class LeakRateSchema(ma.Schema):
    """How an appliance stands."""

    appliance = ma.fields.Nested(ApplianceSchema, required=True)
    on = Day(required=True)
    method = Text(required=True)
    leak_rate_percent = Number(required=True)
    trigger_percent = Number(required=True)
    added_kg = Number(required=True)
    added_lb = Number(required=True)
    repair_by = Day(required=True, allow_none=True)
    chronic_years = ma.fields.List(Whole(), required=True)
    rule = Text(
        required=True, allow_none=True, metadata={"description": "null: under no leak rule known here"}
    )
    works = ma.fields.List(ma.fields.Nested(WorkSchema), required=True)


class CustodySchemaIn(Strict):
    """A cylinder for somebody's hands."""

    cylinder = serial(required=True)
    holder = place_name(required=True)
    due_on = Day(load_default=None, allow_none=True)
    note = Text(longest=1000, load_default=None)


class CustodyArgs(PageArgs):
    """Query of the list."""

    out = Truth(load_default=True, metadata={"description": "only what is not back yet"})


class CustodySchema(ma.Schema):
    """A cylinder in somebody's hands."""

    id = Whole(required=True)
    cylinder = Text(required=True)
    holder = Text(required=True)
    since = Instant(required=True)
    due_on = Day(required=True, allow_none=True)
    overdue = Truth(required=True)
    returned_at = Instant(required=True, allow_none=True)
    note = Text(required=True, allow_none=True)
    recorded_by = Text(required=True)
