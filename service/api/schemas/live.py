"""Schemas for live values and devices."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar, Required, TypedDict

import marshmallow as ma
from marshmallow import validate

from service.api.http.answers import Answer
from service.api.http.fields import (
    LARGEST_ID,
    Among,
    Instant,
    Matches,
    Number,
    Text,
    Truth,
    Whole,
    Within,
    listed,
)
from service.api.http.forgiving import Forgiving
from service.api.http.paging import PageArgs, Paged
from service.api.http.problems import Fault
from service.api.http.quantities import (
    ABSOLUTE_KPA,
    AMBIENT_KPA,
    GAUGE_KPA,
    TEMPERATURE_C,
    Quantity,
    celsius,
    fahrenheit,
    kilograms,
    kpa,
    number,
    pounds,
    psi,
)
from service.api.http.strict import Strict
from service.api.schemas.common import device_name, place_name
from service.api.schemas.verdicts import BIAS_K, MASS_KG, UNCERTAINTY_K
from service.codes import SettlingState
from service.operations.devices import DeviceChange
from service.operations.not_understood import Unread
from service.store.devices import Device
from service.store.live import Live
from service.store.live import TimeLeft as KeptTimeLeft
from service.store.not_understood import NotUnderstood
from service.units import READING_UNITS

STATES: tuple[str, ...] = tuple(SettlingState)
LONGEST_S = 1e8
"""Three years: what is longer is no time that a worker waits for anything [s]."""
REASON = Matches(r"^[a-z][a-z0-9-]{0,39}$", "a reason such as no-liquid")


class Provisional(TypedDict):
    """A pair that is not settled yet, as posted."""

    temperature_c: float
    absolute_pressure_kpa: float
    temperature_uncertainty_k: float


class ProvisionalSchema(Strict):
    """A pair that is not settled yet, for showing."""

    into = Provisional

    temperature_c = number(TEMPERATURE_C, required=True)
    absolute_pressure_kpa = number(ABSOLUTE_KPA, required=True)
    temperature_uncertainty_k = number(UNCERTAINTY_K, required=True)


class TimeLeft(TypedDict):
    """How long it will take until it is settled, from `at` on [s]."""

    expected_s: float
    least_s: float
    most_s: float


class TimeLeftSchema(Strict):
    """How long it will take until it is settled, which lies within the range nine times in ten."""

    into = TimeLeft

    expected_s = number(Within(0, LONGEST_S), required=True)
    least_s = number(Within(0, LONGEST_S), required=True)
    most_s = number(Within(0, LONGEST_S), required=True)


class State(TypedDict, total=False):
    """What the worker says of one hookup, as posted: it is kept as it came, but for what is null."""

    settling_state: Required[str]
    reasons: Required[Sequence[str]]
    at: Required[datetime]
    temperature_c: float | None
    gauge_pressure_kpa: float | None
    absolute_pressure_kpa: float | None
    ambient_pressure_kpa: float | None
    mass_kg: float | None
    ambient_temperature_c: float | None
    battery_percent: float | None
    drift_k_per_h: float | None
    good_to_k: float | None
    provisional_pair: Provisional | None
    probe_lag_s: float | None
    time_left: TimeLeft | None


class HookupState(State):
    """The same, naming its hookup."""

    hookup: Required[int]


class HookupStateSchema(Strict):
    """What the worker says of one hookup."""

    into: ClassVar[type] = State

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
    time_left = ma.fields.Nested(TimeLeftSchema, allow_none=True)


class LiveHookupSchema(HookupStateSchema):
    """The same, naming its hookup."""

    into = HookupState

    hookup = Whole(required=True, validate=Within(1, LARGEST_ID))


class LastReading(TypedDict):
    """The last value of one kind that a device sent."""

    value: float
    unit: str
    at: datetime


class LastReadingSchema(Strict):
    """The last value of one kind that a device sent."""

    into = LastReading

    value = Number(required=True)
    unit = Text(required=True, longest=16)
    at = Instant(required=True)


@dataclass(frozen=True, slots=True)
class Heard:
    """A device that was heard."""

    device: str
    last_seen: datetime
    readings: Mapping[str, LastReading]
    place: str | None = None


class SightingSchema(Strict):
    """A device that was heard."""

    into = Heard

    device = device_name(required=True)
    place = place_name(allow_none=True)
    last_seen = Instant(required=True)
    readings = ma.fields.Dict(
        keys=Text(longest=40, validate=Among(tuple(READING_UNITS))),
        values=ma.fields.Nested(LastReadingSchema),
        load_default={},
    )

    @ma.validates_schema(skip_on_field_errors=False)
    def check_units(self, data: Mapping[str, Mapping[str, Mapping[str, object]]], **_: object) -> None:
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

    into = Unread

    source = Text(required=True, longest=120)
    reason = Text(required=True, longest=40, validate=REASON)
    place = Text(longest=80, allow_none=True)
    detail = Text(required=True, longest=300)
    example = Text(required=True, longest=400)
    partly = Truth(required=True)
    count = Whole(required=True, validate=Within(1, 1_000_000_000))
    first_seen_at = Instant(required=True, data_key="first_seen")
    last_seen_at = Instant(required=True, data_key="last_seen")
    topic = Text(longest=400, allow_none=True)
    message = ma.fields.Raw(allow_none=True)


@dataclass(frozen=True, slots=True)
class LiveBatch:
    """Live values of one worker, and what was refused of them."""

    hookups: Sequence[HookupState]
    devices: Sequence[Heard]
    not_understood: Sequence[Unread]
    refused: Sequence[Fault]
    place: str | None = None
    broker_lost_s: float | None = None


class LiveSchema(Forgiving):
    """A batch of live values of one worker; each value is taken or refused by itself."""

    into = LiveBatch

    place = place_name(allow_none=True)
    broker_lost_s = Number(validate=Within(0, LONGEST_S))
    hookups = ma.fields.List(ma.fields.Nested(LiveHookupSchema), load_default=[])
    devices = ma.fields.List(ma.fields.Nested(SightingSchema), load_default=[])
    not_understood = ma.fields.List(
        ma.fields.Nested(UnreadSchema), load_default=[], validate=validate.Length(max=200)
    )


@dataclass(frozen=True, slots=True)
class LiveAnswer:
    """What became of a batch."""

    hookups: int
    devices: int
    refused: Sequence[Fault]


class LiveAnswerSchema(Answer):
    """What became of a batch: the numbers of items taken, and every fault."""

    of = LiveAnswer

    hookups = Whole(required=True)
    devices = Whole(required=True)
    refused = ma.fields.List(
        ma.fields.Dict(),
        required=True,
        metadata={"description": "field, value and expected of each fault"},
    )


class LiveTimeLeftSchema(Answer):
    """How long it will take until it is settled, which lies within the range nine times in ten."""

    of = KeptTimeLeft

    expected_s = Number(required=True)
    least_s = Number(required=True)
    most_s = Number(required=True)


class LiveValuesSchema(Answer):
    """The last live values of a hookup."""

    of = Live

    hookup = Whole(required=True, attribute="hookup_id")
    cylinder = Text(required=True)
    at = Instant(required=True)
    settling_state = Text(required=True, metadata=listed(STATES))
    reasons = ma.fields.List(Text(), required=True)
    temperature_c = Quantity(celsius, "temp_k", required=True, allow_none=True)
    temperature_f = Quantity(fahrenheit, "temp_k", required=True, allow_none=True)
    absolute_pressure_kpa = Quantity(kpa, "pressure_pa", required=True, allow_none=True)
    absolute_pressure_psi = Quantity(psi, "pressure_pa", required=True, allow_none=True)
    gauge_pressure_kpa = Quantity(kpa, "gauge_pa", required=True, allow_none=True)
    gauge_pressure_psi = Quantity(psi, "gauge_pa", required=True, allow_none=True)
    mass_kg = Quantity(kilograms, "mass_kg", required=True, allow_none=True)
    mass_lb = Quantity(pounds, "mass_kg", required=True, allow_none=True)
    battery_percent = Number(required=True, allow_none=True)
    drift_k_per_h = Number(required=True, allow_none=True)
    good_to_k = Number(required=True, allow_none=True)
    time_left = ma.fields.Nested(LiveTimeLeftSchema, required=True, allow_none=True)


class KeptReading(TypedDict):
    """The last value of one kind, as it is kept."""

    value: float
    unit: str
    at: str


class DeviceReadingSchema(Answer):
    """A value as the device sent it."""

    of = KeptReading

    value = Number(required=True)
    unit = Text(required=True)
    at = Text(required=True)


class DeviceSchema(Answer):
    """A device that has been heard of, attached or not."""

    of = Device

    device = Text(required=True, attribute="name")
    place = Text(required=True, allow_none=True)
    last_seen = Instant(attribute="last_seen_at", required=True, allow_none=True)
    attached = Truth(required=True)
    hookup = Whole(attribute="hookup_id", required=True, allow_none=True)
    readings = ma.fields.Dict(
        keys=ma.fields.String(), values=ma.fields.Nested(DeviceReadingSchema), required=True
    )
    called = Text(required=True, allow_none=True)
    retired_at = Instant(required=True, allow_none=True)
    still_heard = Truth(required=True)


class DeviceChangeSchema(Strict):
    """What may be changed of a device."""

    into = DeviceChange

    called = Text(longest=80, allow_none=True)
    retired = Truth()


class NotUnderstoodSchema(Answer):
    """Messages of one device or topic that could not be read, for one reason."""

    of = NotUnderstood

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
    first_seen = Instant(required=True, attribute="first_seen_at")
    last_seen = Instant(required=True, attribute="last_seen_at")
    topic = Text(required=True, allow_none=True, metadata={"description": "where the last one was published"})
    message = ma.fields.Raw(
        required=True,
        allow_none=True,
        metadata={"description": "the last one decoded, where it is a tree that is not too large"},
    )


@dataclass(frozen=True, slots=True)
class DeviceQuery(Paged):
    """Which devices to list."""

    attached: bool | None


class DeviceArgs(PageArgs):
    """Query of the list of devices."""

    into = DeviceQuery

    attached = Truth(load_default=None)
