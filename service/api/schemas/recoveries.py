"""Schemas for recoveries out of equipment."""

from dataclasses import dataclass
from typing import Any

import marshmallow as ma

from service.api.http.fields import Among, Day, Text, Truth, Within
from service.api.http.paging import PageArgs, Paged
from service.api.http.quantities import (
    ABSOLUTE_KPA,
    AMBIENT,
    AMBIENT_KPA,
    ELEVATION_M,
    GAUGE_KPA,
    GAUGE_PSI,
    PRESSURE,
    Either,
    EitherUnit,
    OfPressure,
    mass,
    number,
)
from service.api.http.strict import Strict
from service.api.schemas.common import serial
from service.api.schemas.transfers import (
    REFRIGERANT,
    EquipmentSchema,
    StandingSchema,
    refrigerant_names,
)
from service.api.schemas.verdicts import MASS_KG, MASS_LB
from service.cylinders.recovery import METHODS
from service.cylinders.recovery_vacuum import IN_HG_PA
from service.operations.recoveries import NewRecovery, Swap
from service.operations.recovery_end import Ending
from service.operations.recovery_turns import Closed
from service.operations.support.atmosphere import PressureReading


def _below_atmosphere(in_hg: float) -> float:
    return -in_hg * IN_HG_PA


VACUUM = {**PRESSURE, "vacuum_in_hg": ("gauge_pa", _below_atmosphere)}
OVERRIDE = {"description": "a supervisor's, where the law leaves room"}
SCALE = {"description": "else the scale under the cylinder, heard within a minute"}
MEANT = {"description": "the one that is on; refused when somebody else has taken it off already"}
CONFIRMED = {
    "description": "a weight beyond the limit is right as typed; it is recorded, the cylinder is overfull"
}


class RecoverySchemaIn(EitherUnit):
    """A recovery to begin."""

    into = NewRecovery
    either = (refrigerant_names(), mass("gross_before"))

    refrigerant = Text(longest=60, allow_none=True, metadata=REFRIGERANT)
    designation = Text(longest=60, allow_none=True, metadata={"description": "the same as `refrigerant`"})
    cylinders = ma.fields.List(
        serial(),
        required=True,
        validate=ma.validate.Length(1, 20),
        metadata={"description": "in order of use"},
    )
    equipment = ma.fields.Nested(EquipmentSchema, required=True)
    standing = ma.fields.Nested(
        StandingSchema,
        attribute="at_rest",
        metadata={"description": "pressure and temperature of the standing equipment"},
    )
    phase = Text(validate=Among(("liquid", "vapour")), load_default="liquid")
    method = Text(
        validate=Among(METHODS), load_default=None, metadata={"description": "else as `phase` says"}
    )
    technician = Text(longest=120, load_default=None)
    certification_number = Text(longest=80, load_default=None)
    machine_made_on = Day(load_default=None, metadata={"description": "of the recovery machine"})
    small_appliance = Truth(load_default=False)
    compressor_runs = Truth(load_default=True)
    gross_before_kg = number(MASS_KG, metadata=SCALE)
    gross_before_lb = number(MASS_LB)
    override_reason = Text(longest=500, load_default=None, metadata=OVERRIDE)

    def built(self, loaded: Any) -> Any:
        """A refrigerant that nobody names is not known; where no method is stated, the phase says it."""
        phase = loaded.pop("phase")
        return super().built({"refrigerant": None, **loaded, "method": loaded["method"] or phase})

    def loaded_names(self) -> dict[str, bool]:
        """The same, with the refrigerant always."""
        names = super().loaded_names()
        del names["phase"]
        return {**names, "refrigerant": True}


class _Closing(EitherUnit):
    """What is said of the cylinder that is taken off becomes one ``closed``."""

    def built(self, loaded: Any) -> Any:
        """Gather it."""
        closed = Closed(loaded.pop("gross_after_kg", None), loaded.pop("confirmed"), loaded.pop("cylinder"))
        return super().built({"closed": closed, **loaded})

    def loaded_names(self) -> dict[str, bool]:
        """The same, with its parts as one."""
        names = super().loaded_names()
        del names["gross_after_kg"], names["confirmed"], names["cylinder"]
        return {**names, "closed": True}


class SwapSchemaIn(_Closing):
    """One cylinder for the next."""

    into = Swap
    either = (mass("gross_after"), mass("gross_before"))

    gross_after_kg = number(MASS_KG, metadata=SCALE)
    gross_after_lb = number(MASS_LB)
    confirmed = Truth(load_default=False, metadata=CONFIRMED)
    cylinder = serial(load_default=None, metadata=MEANT)
    to_cylinder = serial(load_default=None, metadata={"description": "else the next of the plan"})
    without_next = Truth(
        load_default=False, metadata={"description": "take the full one off; another is still to be found"}
    )
    gross_before_kg = number(MASS_KG, metadata={"description": "of the next cylinder"})
    gross_before_lb = number(MASS_LB)
    override_reason = Text(longest=500, load_default=None, metadata=OVERRIDE)


@dataclass(frozen=True, slots=True)
class VacuumBody:
    """A reading of the equipment's vacuum."""

    pressure: PressureReading


class VacuumSchemaIn(OfPressure):
    """A reading of the equipment's vacuum, the machine off."""

    into = VacuumBody
    either = (Either(VACUUM, required=True), AMBIENT)

    absolute_pressure_kpa = number(ABSOLUTE_KPA)
    gauge_pressure_kpa = number(GAUGE_KPA)
    gauge_pressure_psi = number(GAUGE_PSI)
    vacuum_in_hg = number(Within(0, 30), metadata={"description": "below the atmosphere, as gauges have it"})
    ambient_pressure_kpa = number(AMBIENT_KPA)
    elevation_m = number(ELEVATION_M)


@dataclass(frozen=True, slots=True)
class MethodBody:
    """How it goes on."""

    method: str


class MethodSchemaIn(Strict):
    """How it goes on."""

    into = MethodBody

    method = Text(required=True, validate=Among(METHODS))


class EndSchemaIn(_Closing, OfPressure):
    """The end of a recovery."""

    into = Ending
    either = (mass("gross_after"), Either(VACUUM), AMBIENT)

    gross_after_kg = number(MASS_KG, metadata=SCALE)
    gross_after_lb = number(MASS_LB)
    absolute_pressure_kpa = number(
        ABSOLUTE_KPA,
        metadata={"description": "of the equipment, machine off; else the last of `vacuum_readings`"},
    )
    gauge_pressure_kpa = number(GAUGE_KPA)
    gauge_pressure_psi = number(GAUGE_PSI)
    vacuum_in_hg = number(Within(0, 30), metadata={"description": "below the atmosphere, as gauges have it"})
    ambient_pressure_kpa = number(AMBIENT_KPA)
    elevation_m = number(ELEVATION_M)
    held_minutes = number(
        Within(0, 10_000), load_default=None, metadata={"description": "else by `vacuum_readings`"}
    )
    vacuum_reason = Text(longest=1000, load_default=None)
    difference_reason = Text(longest=1000, load_default=None)
    confirmed = Truth(load_default=False, metadata=CONFIRMED)
    cylinder = serial(load_default=None, metadata=MEANT)


@dataclass(frozen=True, slots=True)
class RecoveryQuery(Paged):
    """Which recoveries to list."""

    open: bool


class RecoveryArgs(PageArgs):
    """Query of the list of recoveries."""

    into = RecoveryQuery

    open = Truth(load_default=False, metadata={"description": "only those that go on"})
