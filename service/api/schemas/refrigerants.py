"""Schemas for refrigerants and their saturation."""

from dataclasses import dataclass

import marshmallow as ma

from service.api.http.answers import Answer, Listed, Sparse
from service.api.http.fields import Number, Text, listed
from service.api.http.quantities import (
    ABSOLUTE_KPA,
    ELEVATION_M,
    GAUGE_KPA,
    GAUGE_PSI,
    PRESSURE,
    TEMPERATURE,
    TEMPERATURE_C,
    TEMPERATURE_F,
    Either,
    OfPressure,
    Quantity,
    celsius,
    fahrenheit,
    kpa,
    number,
    psi,
)
from service.codes import SourcedMark
from service.operations.refrigerants import Saturation
from service.operations.support.atmosphere import PressureReading
from service.refrigerants.catalogue import Component, Refrigerant, Sourced


class SourcedSchema(Answer):
    """A published fact with its source and how it is known."""

    of = Sourced

    value = ma.fields.Raw(required=True, allow_none=True)
    source = Text(required=True)
    mark = Text(required=True, metadata=listed(SourcedMark))


class ComponentSchema(Answer):
    """A component of a blend."""

    of = Component

    name = Text(required=True)
    mass_fraction = Number(required=True)


class RefrigerantSchema(Answer):
    """One designation of the catalogue."""

    of = Refrigerant

    designation = Text(required=True)
    components = ma.fields.List(ma.fields.Nested(ComponentSchema), required=True)
    molar_mass_kg_mol = Number(required=True)
    model = Text(required=True)
    relative_uncertainty = Number(
        required=True, metadata={"description": "1 sigma of the saturation pressure"}
    )
    uncertainty_reason = Text(required=True)
    composition_source = ma.fields.Nested(SourcedSchema, required=True)
    tolerance = ma.fields.Nested(SourcedSchema, required=True)
    safety_class = ma.fields.Nested(SourcedSchema, required=True)
    odp = ma.fields.Nested(SourcedSchema, required=True)
    gwp_ar4 = ma.fields.Nested(SourcedSchema, required=True)
    gwp_ar5 = ma.fields.Nested(SourcedSchema, required=True)
    gwp_ar6 = ma.fields.Nested(SourcedSchema, required=True)
    rcl_ppm = ma.fields.Nested(SourcedSchema, required=True)
    un_number = ma.fields.Nested(SourcedSchema, required=True)
    shipping_name = ma.fields.Nested(SourcedSchema, required=True)
    hazard_division = ma.fields.Nested(SourcedSchema, required=True)
    boiling_bubble_c = ma.fields.Nested(SourcedSchema, required=True)
    boiling_dew_c = ma.fields.Nested(SourcedSchema, required=True)


class RefrigerantSummarySchema(Answer):
    """A designation in the list."""

    of = Refrigerant

    designation = Text(required=True)
    components = ma.fields.List(ma.fields.Nested(ComponentSchema), required=True)
    safety_class = Text(required=True, allow_none=True, attribute="safety_class.value")
    relative_uncertainty = Number(required=True)


class RefrigerantListSchema(Answer):
    """The whole catalogue; it fits one page."""

    of = Listed

    items = ma.fields.List(ma.fields.Nested(RefrigerantSummarySchema), required=True)
    next = Text(required=True, allow_none=True)


@dataclass(frozen=True, slots=True)
class Asked:
    """A temperature [K] or a pressure to answer saturation at."""

    pressure: PressureReading | None
    temp_k: float | None = None


class SaturationArgs(OfPressure):
    """A temperature or a pressure; gauge pressure is against the elevation, sea level when none is given."""

    into = Asked
    either = (Either({**TEMPERATURE, **PRESSURE}, required=True),)
    temperature_c = number(TEMPERATURE_C, query=True, metadata={"example": 20.0})
    temperature_f = number(TEMPERATURE_F, query=True)
    absolute_pressure_kpa = number(ABSOLUTE_KPA, query=True)
    gauge_pressure_kpa = number(GAUGE_KPA, query=True)
    gauge_pressure_psi = number(GAUGE_PSI, query=True)
    elevation_m = number(ELEVATION_M, query=True, load_default=None)


class SaturationSchema(Sparse):
    """Bubble and dew pressure at a temperature, or temperature at a pressure; equal for a pure fluid."""

    of = Saturation

    designation = Text(required=True)
    relative_uncertainty = Number(required=True, metadata={"description": "1 sigma of the pressure"})
    temperature_c = Quantity(celsius, "temp_k")
    temperature_f = Quantity(fahrenheit, "temp_k")
    absolute_pressure_kpa = Quantity(kpa, "pressure_pa")
    absolute_pressure_psi = Quantity(psi, "pressure_pa")
    bubble_pressure_kpa = Quantity(kpa, "bubble_pa")
    bubble_pressure_psi = Quantity(psi, "bubble_pa")
    dew_pressure_kpa = Quantity(kpa, "dew_pa")
    dew_pressure_psi = Quantity(psi, "dew_pa")
    bubble_temperature_c = Quantity(celsius, "bubble_temp_k")
    bubble_temperature_f = Quantity(fahrenheit, "bubble_temp_k")
    dew_temperature_c = Quantity(celsius, "dew_temp_k")
    dew_temperature_f = Quantity(fahrenheit, "dew_temp_k")
