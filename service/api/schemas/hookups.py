"""Schemas for hookups."""

import marshmallow as ma

from service.api.fields import Among, Instant, Number, Text, Truth, Whole
from service.api.paging import PageArgs
from service.api.quantities import number
from service.api.schemas.common import device_name, place_name, serial
from service.api.schemas.verdicts import BIAS_K, BIAS_KPA
from service.api.strict import Strict

VALVES = ("vapour", "liquid")


class NewHookupSchema(Strict):
    """Devices to attach; one that measures both may be named once."""

    cylinder = serial(required=True)
    pressure_device = device_name()
    temperature_device = device_name()
    valve = Text(validate=Among(VALVES), load_default="vapour")
    place = place_name()
    from_at = Instant(data_key="from")
    temperature_bias_uncertainty_k = number(BIAS_K)
    pressure_bias_uncertainty_kpa = number(BIAS_KPA)

    @ma.post_load
    def one_may_serve_both(self, data: dict[str, object], **_: object) -> dict[str, object]:
        """Fill the device that was not named with the one that was."""
        named = data.get("pressure_device") or data.get("temperature_device")
        if named is None:
            told = {"value": None, "expected": "a pressure_device, a temperature_device or both"}
            raise ma.ValidationError({"pressure_device": [told]})
        return {"pressure_device": named, "temperature_device": named, **data}

    @classmethod
    def json_schema(cls) -> dict[str, object]:
        """At least one device; within allOf, because generators take a bare anyOf for two shapes."""
        return {
            "allOf": [{"anyOf": [{"required": [f"{kind}_device"]} for kind in ("pressure", "temperature")]}]
        }


class HookupSchema(ma.Schema):
    """Devices on a cylinder, and the atmosphere their gauge reads against."""

    id = Whole(required=True)
    cylinder = Text(required=True)
    place = Text(required=True)
    pressure_device = Text(required=True)
    temperature_device = Text(required=True)
    valve = Text(required=True)
    from_at = Instant(required=True, data_key="from")
    to_at = Instant(required=True, allow_none=True, data_key="to")
    atmospheric_pressure_kpa = Number(required=True)
    atmospheric_pressure_psi = Number(required=True)
    atmospheric_pressure_uncertainty_kpa = Number(required=True)
    atmospheric_pressure_source = Text(required=True)
    temperature_bias_uncertainty_k = Number(required=True, allow_none=True)
    pressure_bias_uncertainty_kpa = Number(required=True, allow_none=True)
    probe_lag_s = Number(required=True, allow_none=True)


class HookupArgs(PageArgs):
    """Query of the list of hookups."""

    active = Truth(load_default=None)
    cylinder = serial(load_default=None)
