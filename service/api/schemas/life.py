"""Schemas for holds, exchanges, care by hand and triage."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, ClassVar

import marshmallow as ma
from marshmallow import validate

from service.api.http.answers import Answer
from service.api.http.fields import (
    Among,
    Instant,
    Number,
    QueryWhole,
    Text,
    Truth,
    Whole,
    Within,
    listed,
)
from service.api.http.paging import OfCylinder, PageArgs
from service.api.http.quantities import (
    Either,
    EitherUnit,
    Quantity,
    kilograms,
    mass,
    number,
    pounds,
)
from service.api.http.strict import Strict
from service.api.schemas.common import serial
from service.api.schemas.cylinders import NewCylinderSchema
from service.api.schemas.verdicts import MASS_KG, MASS_LB, ObservationsSchema
from service.codes import Destination
from service.operations.care import KINDS, TESTS, Entry
from service.operations.cylinders import NewCylinder
from service.operations.observing import COMPOSED
from service.store.care import Care
from service.store.events import Event
from service.store.exchanges import Exchange
from service.store.holds import Hold
from service.units import pa_from_micron
from service.verdict.document import plain
from service.verdict.reads_the_same import PROVENANCES

PERCENT = Within(0, 100)
PPM = Within(0, 1_000_000)


@dataclass(frozen=True, slots=True)
class HoldBody:
    """A cylinder to set aside."""

    cylinder: str
    reason: str


class HoldSchemaIn(Strict):
    """A cylinder to set aside."""

    into = HoldBody

    cylinder = serial(required=True)
    reason = Text(required=True, longest=500)


@dataclass(frozen=True, slots=True)
class ReleaseQuery:
    """Why a hold is lifted."""

    reason: str | None


class ReleaseOfHoldArgs(Strict):
    """Why a hold is lifted."""

    into = ReleaseQuery

    reason = Text(longest=500, load_default=None)


class HoldSchema(Answer):
    """A hold."""

    of = Hold

    id = Whole(required=True)
    cylinder = Text(required=True)
    reason = Text(required=True)
    placed_at = Instant(required=True)
    placed_by = Text(required=True)
    released_at = Instant(required=True, allow_none=True)
    released_by = Text(required=True, allow_none=True)
    release_reason = Text(required=True, allow_none=True)


@dataclass(frozen=True, slots=True)
class HoldQuery(OfCylinder):
    """Which holds to list."""

    in_force: bool


class HoldArgs(PageArgs):
    """Query of the list of holds."""

    into = HoldQuery

    cylinder = serial(load_default=None)
    in_force = Truth(load_default=True)


@dataclass(frozen=True, slots=True)
class ExchangeBody:
    """An exchange as posted [kg]."""

    cylinder: str
    counterparty: str
    receipt: str
    gross_mass_kg: float
    destination: str | None
    confirmed: bool
    received: NewCylinder | None = None
    at: datetime | None = None
    technician: str | None = None
    certification_number: str | None = None
    note: str | None = None


class ExchangeSchemaIn(EitherUnit):
    """A full cylinder against an evacuated one."""

    into = ExchangeBody
    either = (mass("gross_mass", required=True),)

    cylinder = serial(required=True)
    counterparty = Text(required=True, longest=200, metadata={"description": "supply house or reclaimer"})
    receipt = Text(required=True, longest=80)
    gross_mass_kg = number(MASS_KG, metadata={"description": "on the supply house's scale"})
    gross_mass_lb = number(MASS_LB)
    destination = Text(
        load_default=None, validate=Among(tuple(Destination)),
        metadata={"description": "by what is judged of the contents where none is stated"},
    )  # fmt: skip
    confirmed = Truth(
        load_default=False, metadata={"description": "what was asked back about is right as stated"}
    )
    received = ma.fields.Nested(
        NewCylinderSchema, metadata={"description": "the evacuated cylinder taken back"}
    )
    at = Instant()
    technician = Text(longest=120)
    certification_number = Text(longest=80)
    note = Text(longest=1000)


class ExchangeSchema(Answer):
    """An exchange."""

    of = Exchange

    id = Whole(required=True)
    cylinder = Text(required=True)
    received_cylinder = Text(required=True, allow_none=True)
    counterparty = Text(required=True)
    receipt = Text(required=True)
    destination = Text(required=True)
    designation = Text(required=True, allow_none=True)
    shares = ma.fields.Dict(keys=Text(), values=Number(), required=True)
    gross_mass_kg = Quantity(kilograms, "gross_kg", required=True)
    gross_mass_lb = Quantity(pounds, "gross_kg", required=True)
    net_mass_kg = Quantity(kilograms, "net_kg", required=True)
    net_mass_lb = Quantity(pounds, "net_kg", required=True)
    at = Instant(required=True, attribute="occurred_at")
    recorded_at = Instant(required=True)
    recorded_by = Text(required=True)
    technician = Text(required=True, allow_none=True)
    certification_number = Text(required=True, allow_none=True)
    note = Text(required=True, allow_none=True)


class SerialArgs(PageArgs):
    """Query of a list about cylinders."""

    into: ClassVar[type] = OfCylinder

    cylinder = serial(load_default=None)


@dataclass(frozen=True, slots=True)
class CareQuery(OfCylinder):
    """Which entries to list."""

    kind: str | None


class CareArgs(SerialArgs):
    """Query of the entries of care."""

    into = CareQuery

    kind = Text(longest=24, load_default=None)


class CareSchemaIn(EitherUnit):
    """What every entry has; the rest are its details."""

    into = Entry
    kind: ClassVar[str]

    cylinder = serial(required=True)
    at = Instant()
    note = Text(longest=1000)

    def built(self, loaded: Any) -> Entry:
        """Gather the details."""
        serial, at, passed = loaded.pop("cylinder"), loaded.pop("at", None), loaded.pop("passed", None)
        return Entry(serial, self.kind, passed, loaded, at)


class InspectionSchema(CareSchemaIn):
    """The visual inspection of 49 CFR 173.301(a)(2)."""

    kind = "inspection"

    passed = Truth(required=True)
    findings = ma.fields.List(
        Text(longest=80),
        validate=validate.Length(max=20),
        metadata={"description": "dents, rust, cracked welds at foot ring or handle, valve, relief device"},
    )
    travelled = Text(longest=120, metadata={"description": "how it travelled: upright, secured"})


class EvacuationSchema(CareSchemaIn):
    """An evacuation with its vacuum reading."""

    kind = "evacuation"

    either = (
        Either(
            {
                "vacuum_pa": ("vacuum_pa", float),
                "vacuum_micron": ("vacuum_pa", pa_from_micron),
            },
            required=True,
        ),
    )

    vacuum_pa = number(Within(0, 101_325))
    vacuum_micron = number(Within(0, 760_000))


class RequalificationSchema(CareSchemaIn):
    """A requalification with its new stamp."""

    kind = "requalification"

    passed = Truth(load_default=True)
    stamp = Text(longest=64, metadata={"description": "month, RIN, year, suffix, as stamped; when passed"})

    @ma.validates_schema
    def stamped(self, data: Mapping[str, object], **_: object) -> None:
        """A cylinder that passed has a stamp."""
        if data.get("passed", True) and not data.get("stamp"):
            raise ma.ValidationError({"stamp": [{"value": None, "expected": "the stamp, such as 6 A123 26"}]})


class TestSchema(CareSchemaIn):
    """An acid, moisture or other test by hand."""

    kind = "test"

    __test__ = False

    test = Text(required=True, validate=Among(TESTS))
    passed = Truth(required=True)
    moisture_ppm = number(PPM)


class PurityResultSchema(CareSchemaIn):
    """What the reclaimer's laboratory found."""

    kind = "purity-result"

    passed = Truth(required=True)
    laboratory = Text(required=True, longest=200)
    designation = Text(longest=60)
    other_refrigerants_percent = number(PERCENT)
    non_condensables_percent = number(PERCENT)
    moisture_ppm = number(PPM)
    receipt = Text(longest=80)


class ObservationSchema(CareSchemaIn, ObservationsSchema):
    """What else was seen of the contents than pressure and temperature."""

    kind = "observation"
    into = Entry
    either = (*CareSchemaIn.either, *ObservationsSchema.either)

    provenance = Text(
        validate=Among(list(PROVENANCES)),
        metadata={"description": "maker: a maker's sealed container; records: own, without a gap; unknown"},
    )

    def loaded_names(self) -> dict[str, bool]:
        """The same, compositions by the names that an entry keeps them under."""
        names = super().loaded_names()
        return names | {f"{kind}_composition": names.pop(kind) for kind in COMPOSED}

    def built(self, loaded: Any) -> Entry:
        """Gather the details, compositions as plain data."""
        for kind in COMPOSED:
            if kind in loaded:
                loaded[f"{kind}_composition"] = plain(loaded.pop(kind))
        return super().built(loaded)


class ScrappingSchema(CareSchemaIn):
    """A cylinder taken out of service for good."""

    kind = "scrapping"

    reason = Text(required=True, longest=500)
    condemned = Truth(load_default=False)


class LabelledSchema(CareSchemaIn):
    """A label put on."""

    kind = "label"


class CareSchema(Answer):
    """An entry of care."""

    of = Care

    id = Whole(required=True)
    cylinder = Text(required=True)
    kind = Text(required=True, metadata=listed(KINDS))
    epoch = Whole(required=True)
    passed = Truth(required=True, allow_none=True)
    details = ma.fields.Dict(required=True)
    at = Instant(required=True, attribute="occurred_at")
    recorded_at = Instant(required=True)
    recorded_by = Text(required=True)


class HistoryEntrySchema(Answer):
    """Something that happened to a cylinder."""

    of = Event

    id = Whole(required=True)
    at = Instant(required=True)
    type = Text(required=True)
    actor = Text(required=True)
    data = ma.fields.Dict(required=True)


@dataclass(frozen=True, slots=True)
class HistoryQuery:
    """Where to go on."""

    before: int | None


class HistoryArgs(Strict):
    """Query of a cylinder's history."""

    into = HistoryQuery

    before = QueryWhole(load_default=None, metadata={"description": "`next` of the page before"})
