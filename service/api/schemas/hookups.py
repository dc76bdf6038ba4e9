"""Schemas for hookups."""

from dataclasses import dataclass
from typing import get_args

import marshmallow as ma

from service.api.http.answers import Answer
from service.api.http.fields import Among, Instant, Number, Text, Truth, Whole, listed
from service.api.http.json_types import JsonObject
from service.api.http.paging import OfCylinder, PageArgs
from service.api.http.quantities import Either, EitherUnit, Loaded, Quantity, kpa, number, psi
from service.api.schemas.common import device_name, place_name, serial
from service.api.schemas.verdicts import BIAS_K, BIAS_KPA
from service.cylinders.valves import Valve
from service.operations.hookups import NewHookup
from service.operations.support.atmosphere import Atmosphere
from service.store.hookups import Hookup
from service.units import kpa_from_pa, pa_from_kpa

VALVES = get_args(Valve)


class NewHookupSchema(EitherUnit):
    """Devices to attach; one that measures both may be named once."""

    into = NewHookup
    either = (
        Either({"temperature_bias_uncertainty_k": ("temperature_bias_k", float)}),
        Either({"pressure_bias_uncertainty_kpa": ("pressure_bias_pa", pa_from_kpa)}),
    )

    cylinder = serial(required=True)
    pressure_device = device_name()
    temperature_device = device_name()
    valve = Text(validate=Among(VALVES), load_default="vapour")
    place = place_name()
    from_at = Instant(data_key="from")
    temperature_bias_uncertainty_k = number(BIAS_K)
    pressure_bias_uncertainty_kpa = number(BIAS_KPA)

    @ma.post_load
    def one_may_serve_both(self, data: Loaded, **_: object) -> Loaded:
        """Fill the device that was not named with the one that was."""
        named = data.get("pressure_device") or data.get("temperature_device")
        if named is None:
            told = {"value": None, "expected": "a pressure_device, a temperature_device or both"}
            raise ma.ValidationError({"pressure_device": [told]})
        return {"pressure_device": named, "temperature_device": named, **data}

    def loaded_names(self) -> dict[str, bool]:
        """The same; both devices are named by then."""
        return {**super().loaded_names(), "pressure_device": True, "temperature_device": True}

    @classmethod
    def json_schema(cls) -> JsonObject:
        """At least one device; within allOf, because generators take a bare anyOf for two shapes."""
        return {
            "allOf": [{"anyOf": [{"required": [f"{kind}_device"]} for kind in ("pressure", "temperature")]}]
        }


@dataclass(frozen=True, slots=True)
class HookupAt:
    """A hookup, and the atmosphere that its gauge reads against."""

    hookup: Hookup
    atmosphere: Atmosphere


class HookupSchema(Answer):
    """Devices on a cylinder, and the atmosphere their gauge reads against."""

    of = HookupAt
    inside = "hookup"

    id = Whole(required=True)
    cylinder = Text(required=True)
    place = Text(required=True)
    pressure_device = Text(required=True)
    temperature_device = Text(required=True)
    valve = Text(required=True, metadata=listed(VALVES))
    from_at = Instant(required=True, data_key="from")
    to_at = Instant(required=True, allow_none=True, data_key="to")
    atmospheric_pressure_kpa = Quantity(kpa, "atmosphere.pressure_pa", required=True)
    atmospheric_pressure_psi = Quantity(psi, "atmosphere.pressure_pa", required=True)
    atmospheric_pressure_uncertainty_kpa = Quantity(kpa_from_pa, "atmosphere.uncertainty_pa", required=True)
    atmospheric_pressure_source = Text(required=True, attribute="atmosphere.source")
    temperature_bias_uncertainty_k = Number(attribute="temperature_bias_k", required=True, allow_none=True)
    pressure_bias_uncertainty_kpa = Quantity(kpa_from_pa, "pressure_bias_pa", required=True, allow_none=True)
    probe_lag_s = Number(required=True, allow_none=True)


@dataclass(frozen=True, slots=True)
class HookupQuery(OfCylinder):
    """Which hookups to list."""

    active: bool | None


class HookupArgs(PageArgs):
    """Query of the list of hookups."""

    into = HookupQuery

    active = Truth(load_default=None)
    cylinder = serial(load_default=None)
