"""Schemas for refrigerants and their saturation."""

import marshmallow as ma

from service.api.fields import Number, Text
from service.api.quantities import (
    ABSOLUTE_KPA,
    ELEVATION_M,
    GAUGE_KPA,
    GAUGE_PSI,
    PRESSURE,
    TEMPERATURE,
    TEMPERATURE_C,
    TEMPERATURE_F,
    Either,
    EitherUnit,
    number,
)


class SourcedSchema(ma.Schema):
    """A published fact with its source and how it is known."""

    value = ma.fields.Raw(required=True, allow_none=True)
    source = Text(required=True)
    mark = Text(required=True, metadata={"description": "read, memory, computed, inferred or unknown"})


class ComponentSchema(ma.Schema):
    """A component of a blend."""

    name = Text(required=True)
    mass_fraction = Number(required=True)


class RefrigerantSchema(ma.Schema):
    """One designation of the catalogue."""

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


class RefrigerantSummarySchema(ma.Schema):
    """A designation in the list."""

    designation = Text(required=True)
    components = ma.fields.List(ma.fields.Nested(ComponentSchema), required=True)
    safety_class = Text(required=True, allow_none=True)
    relative_uncertainty = Number(required=True)


class RefrigerantListSchema(ma.Schema):
    """The whole catalogue; it fits one page."""

    items = ma.fields.List(ma.fields.Nested(RefrigerantSummarySchema), required=True)
    next = Text(required=True, allow_none=True)


class SaturationArgs(EitherUnit):
    """A temperature or a pressure; gauge pressure is against the elevation, sea level when none is given."""

    either = (Either({**TEMPERATURE, **PRESSURE}, required=True),)
    temperature_c = number(TEMPERATURE_C, query=True, metadata={"example": 20.0})
    temperature_f = number(TEMPERATURE_F, query=True)
    absolute_pressure_kpa = number(ABSOLUTE_KPA, query=True)
    gauge_pressure_kpa = number(GAUGE_KPA, query=True)
    gauge_pressure_psi = number(GAUGE_PSI, query=True)
    elevation_m = number(ELEVATION_M, query=True, load_default=None)


class SaturationSchema(ma.Schema):
    """Bubble and dew pressure at a temperature, or temperature at a pressure; equal for a pure fluid."""

    designation = Text(required=True)
    relative_uncertainty = Number(required=True, metadata={"description": "1 sigma of the pressure"})
    temperature_c = Number()
    temperature_f = Number()
    absolute_pressure_kpa = Number()
    absolute_pressure_psi = Number()
    bubble_pressure_kpa = Number()
    bubble_pressure_psi = Number()
    dew_pressure_kpa = Number()
    dew_pressure_psi = Number()
    bubble_temperature_c = Number()
    bubble_temperature_f = Number()
    dew_temperature_c = Number()
    dew_temperature_f = Number()
