"""Schemas for live values and devices."""

from typing import Any

import marshmallow as ma
from marshmallow import validate

from service.api.fields import LARGEST_ID, Among, Instant, Matches, Number, Text, Truth, Whole, Within
from service.api.forgiving import Forgiving
from service.api.paging import PageArgs
from service.api.quantities import (
    ABSOLUTE_KPA,
    AMBIENT_KPA,
    GAUGE_KPA,
    TEMPERATURE_C,
    number,
)
from service.api.schemas.common import device_name, place_name
from service.api.schemas.verdicts import BIAS_K, MASS_KG, UNCERTAINTY_K
from service.api.strict import Strict
from service.units import READING_UNITS

STATES = ("waiting", "warming", "cooling", "settling", "settled", "disturbed", "stale")
REASON = Matches(r"^[a-z][a-z0-9-]{0,39}$", "a reason such as no-liquid")


class ProvisionalSchema(Strict):
    """A pair that is not settled yet, for showing."""

    temperature_c = number(TEMPERATURE_C, required=True)
    absolute_pressure_kpa = number(ABSOLUTE_KPA, required=True)
    temperature_uncertainty_k = number(UNCERTAINTY_K, required=True)


class HookupStateSchema(Strict):
    """What the worker says of one hookup."""

    settling_state = Text(required=True, validate=Among(STATES))
    reasons = ma.fields.List(
        Text(longest=40, validate=REASON), load_default=[], validate=validate.Length(max=20)
    )
    at = Instant(required=True)
    temperature_c = number(TEMPERATURE_C, allow_none=True)
    gauge_pressure_kpa = number(GAUGE_KPA, allow_none=True)
    absolute_pressure_kpa = number(ABSOLUTE_KPA, allow_none=True)
    ambient_pressure_kpa = number(AMBIENT_KPA, allow_none=True)
    mass_kg = number(MASS_KG, allow_none=True)
    ambient_temperature_c = number(TEMPERATURE_C, allow_none=True)
    battery_percent = number(Within(0, 100), allow_none=True)
    drift_k_per_h = number(Within(-10_000, 10_000), allow_none=True)
    good_to_k = number(BIAS_K, allow_none=True)
    provisional_pair = ma.fields.Nested(ProvisionalSchema, allow_none=True)
    probe_lag_s = number(Within(0, 100_000), allow_none=True)


class LiveHookupSchema(HookupStateSchema):
    """The same, naming its hookup."""

    hookup = Whole(required=True, validate=Within(1, LARGEST_ID))


class LastReadingSchema(Strict):
    """The last value of one kind that a device sent."""

    value = Number(required=True)
    unit = Text(required=True, longest=16)
    at = Instant(required=True)


class SightingSchema(Strict):
    """A device that was heard."""

    device = device_name(required=True)
    place = place_name(allow_none=True)
    last_seen = Instant(required=True)
    readings = ma.fields.Dict(
        keys=Text(longest=40, validate=Among(tuple(READING_UNITS))),
        values=ma.fields.Nested(LastReadingSchema),
        load_default={},
    )

    @ma.validates_schema(skip_on_field_errors=False)
    def check_units(self, data: dict[str, Any], **_: Any) -> None:
        """Refuse a unit that the worker does not pass on: nobody downstream looks at units."""
        faults = {
            name: {"unit": [{"value": reading.get("unit"), "expected": READING_UNITS[name]}]}
            for name, reading in data.get("readings", {}).items()
            if reading.get("unit") != READING_UNITS.get(name)
        }
        if faults:
            raise ma.ValidationError({"readings": faults})


class UnreadSchema(Strict):
    """What the worker could not read of one device or topic, for one reason, since it last said so."""

    source = Text(required=True, longest=120)
    reason = Text(required=True, longest=40, validate=REASON)
    place = Text(longest=80, allow_none=True)
    detail = Text(required=True, longest=300)
    example = Text(required=True, longest=400)
    partly = Truth(required=True)
    count = Whole(required=True, validate=Within(1, 1_000_000_000))
    first_seen = Instant(required=True)
    last_seen = Instant(required=True)


class LiveSchema(Forgiving):
    """A batch of live values of one worker; each value is taken or refused by itself."""

    place = place_name(allow_none=True)
    hookups = ma.fields.List(ma.fields.Nested(LiveHookupSchema), load_default=[])
    devices = ma.fields.List(ma.fields.Nested(SightingSchema), load_default=[])
    not_understood = ma.fields.List(
        ma.fields.Nested(UnreadSchema), load_default=[], validate=validate.Length(max=200)
    )


class LiveAnswerSchema(ma.Schema):
    """What became of a batch: the numbers of items taken, and every fault."""

    hookups = Whole(required=True)
    devices = Whole(required=True)
    refused = ma.fields.List(
        ma.fields.Dict(),
        required=True,
        metadata={"description": "field, value and expected of each fault"},
    )


class LiveValuesSchema(ma.Schema):
    """The last live values of a hookup."""

    hookup = Whole(required=True)
    cylinder = Text(required=True)
    at = Instant(required=True)
    settling_state = Text(required=True)
    reasons = ma.fields.List(Text(), required=True)
    temperature_c = Number(required=True, allow_none=True)
    temperature_f = Number(required=True, allow_none=True)
    absolute_pressure_kpa = Number(required=True, allow_none=True)
    absolute_pressure_psi = Number(required=True, allow_none=True)
    gauge_pressure_kpa = Number(required=True, allow_none=True)
    gauge_pressure_psi = Number(required=True, allow_none=True)
    mass_kg = Number(required=True, allow_none=True)
    mass_lb = Number(required=True, allow_none=True)
    battery_percent = Number(required=True, allow_none=True)
    drift_k_per_h = Number(required=True, allow_none=True)
    good_to_k = Number(required=True, allow_none=True)


class DeviceReadingSchema(ma.Schema):
    """A value as the device sent it."""

    value = Number(required=True)
    unit = Text(required=True)
    at = Text(required=True)


class DeviceSchema(ma.Schema):
    """A device that has been heard of, attached or not."""

    device = Text(required=True)
    place = Text(required=True, allow_none=True)
    last_seen = Instant(required=True, allow_none=True)
    attached = Truth(required=True)
    hookup = Whole(required=True, allow_none=True)
    readings = ma.fields.Dict(
        keys=ma.fields.String(), values=ma.fields.Nested(DeviceReadingSchema), required=True
    )


class NotUnderstoodSchema(ma.Schema):
    """Messages of one device or topic that could not be read, for one reason."""

    source = Text(
        required=True, metadata={"description": "the device, or the topic of a message that no mapping reads"}
    )
    reason = Text(required=True, metadata={"description": "a word to count by, such as unit or not-json"})
    place = Text(required=True, allow_none=True)
    detail = Text(
        required=True, metadata={"description": "what was wrong with the last one: field, value, expectation"}
    )
    example = Text(
        required=True, metadata={"description": "the beginning of the last message, at most 400 characters"}
    )
    partly = Truth(required=True, metadata={"description": "whether the rest of the last message was read"})
    count = Whole(required=True, metadata={"description": "messages since `first_seen`"})
    first_seen = Instant(required=True)
    last_seen = Instant(required=True)


class DeviceArgs(PageArgs):
    """Query of the list of devices."""

    attached = Truth(load_default=None)
