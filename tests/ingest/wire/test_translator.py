"""Foreign messages: the shipped mappings read the payloads that they show, and every refusal says what it is about."""

import json
import math
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import service.mappings
from ingest.wire.mapping import parse
from ingest.wire.reading import Reading, Refused
from ingest.wire.senml import read
from ingest.wire.translator import Translator, as_pack

NOW = 1772366400.0 + 2.0
NOON = 1772366400.0
SHIPPED = Path(service.mappings.__file__).parent / "shipped"


def shipped(name: str, places: tuple[str, ...] = ()) -> Translator:
    text = (SHIPPED / f"{name}.toml").read_text()
    return Translator(parse(text, toml=True, root="heelmark"), places)


def made(mapping: dict, places: tuple[str, ...] = ()) -> Translator:
    whole = {
        "name": "m",
        "topic": "x/{place}/{device}",
        "value": [
            {"quantity": "mass", "path": "kg", "unit": "kg"},
            {"quantity": "gauge-pressure", "path": "p", "unit": "kPa"},
        ],
    }
    return Translator(parse(json.dumps({"mapping": [whole | mapping]}), toml=False, root="heelmark"), places)


def said(translator: Translator, topic: str, payload: object) -> tuple[str, list[Reading]]:
    found = translator.read(topic, json.dumps(payload).encode(), NOW)
    assert not found.taken.refusals
    return found.place, found.taken.readings


def close(readings: list[Reading], expected: list[Reading]) -> bool:
    assert [one[:3] for one in readings] == [one[:3] for one in expected]
    return [one.value for one in readings] == pytest.approx([one.value for one in expected], rel=1e-12)


def test_flat_json() -> None:
    payload = {"psi": 136.6, "temp": 76.6, "batt": 81, "ts": 1772366400123}
    place, readings = said(shipped("flat-json"), "vans/van-7/gauge-3/state", payload)
    assert place == "van-7"
    assert close(
        readings,
        [
            Reading("gauge-3", "gauge-pressure", NOON + 0.123, 136.6 * 6894.757293168361),
            Reading("gauge-3", "wall-temperature", NOON + 0.123, (76.6 - 32.0) / 1.8 + 273.15),
            Reading("gauge-3", "battery", NOON + 0.123, 81.0),
        ],
    )


def test_one_number_a_topic() -> None:
    translator = shipped("scalar-topic")
    assert said(translator, "shop-sensors/gauge-3/pressure", 9.42) == (
        "shop",
        [Reading("gauge-3", "gauge-pressure", NOW, 942_000.0)],
    )
    assert said(translator, "shop-sensors/clamp-3/temperature", 24.5) == (
        "shop",
        [Reading("clamp-3", "wall-temperature", NOW, 297.65)],
    )


def test_a_lorawan_uplink() -> None:
    decoded = {"pressure_kpa": 942.0, "temperature_c": 24.5, "battery": 0.81}
    payload = {"dev_eui": "0024befffe804ff1", "received_at": "2026-03-01T12:00:00Z", "decoded": decoded}
    place, readings = said(shipped("lorawan-uplink"), "lorawan/shop/up", payload)
    device = "urn:dev:mac:0024befffe804ff1"
    assert place == "shop"
    assert close(
        readings,
        [
            Reading(device, "gauge-pressure", NOON, 942_000.0),
            Reading(device, "wall-temperature", NOON, 297.65),
            Reading(device, "battery", NOON, 81.0),
        ],
    )


def test_observations_each_with_its_unit() -> None:
    shared = {"device": "gauge-3", "phenomenonTime": "2026-03-01T12:00:00Z"}
    value = [
        {**shared, "datastream": "pressure", "unit": "bar", "result": 9.42},
        {**shared, "datastream": "humidity", "unit": "%", "result": 40},
        {**shared, "device": "clamp-3", "datastream": "temperature", "unit": "Cel", "result": 24.5},
    ]
    assert said(shipped("observations"), "observations/shop", {"value": value}) == (
        "shop",
        [
            Reading("gauge-3", "gauge-pressure", NOON, 942_000.0),
            Reading("clamp-3", "wall-temperature", NOON, 297.65),
        ],
    )


def test_a_bridge_that_publishes_text() -> None:
    payload = {"state": {"pressure": "9.42", "temperature": "unavailable"}, "unit": {"pressure": "bar"}}
    assert said(shipped("bridge-state"), "bridge/shop/gauge-3", payload) == (
        "shop",
        [Reading("gauge-3", "gauge-pressure", NOW, 942_000.0)],
    )


def test_every_shipped_mapping_is_tested_here() -> None:
    assert {path.stem for path in SHIPPED.glob("*.toml")} == {
        "flat-json",
        "scalar-topic",
        "lorawan-uplink",
        "observations",
        "bridge-state",
        "sparkplug",  # in test_sparkplug.py
    }


@pytest.mark.parametrize(
    ("mapping", "payload", "reason", "told"),
    [
        ({}, "{", "not-json", "not JSON"),
        ({}, '{"humidity": 4}', "not-understood", "mapping m: nothing at kg, p, expected a value"),
        ({}, "3", "not-understood", "nothing at kg, p"),
        ({}, '{"kg": "4"}', "not-a-number", "mass (kg) is '4', expected a number"),
        ({}, '{"kg": true}', "not-a-number", "mass (kg) is 'True', expected a number"),
        ({}, '{"kg": NaN}', "not-finite", "mass (kg) is 'nan', expected a finite number"),
        ({}, '{"p": 1e308}', "not-finite", "expected a finite number"),
        ({}, '{"kg": 1' + "0" * 400 + "}", "not-finite", "expected a finite number"),
        (
            {"time": {"path": "t", "form": "unix"}},
            '{"kg": 4}',
            "time",
            "time (t) is 'None', expected a number",
        ),
        ({"time": {"path": "t", "form": "unix"}}, '{"kg": 4, "t": 9e99}', "ahead-of-time", "ahead of now"),
        (
            {"time": {"path": "t", "form": "unix"}},
            '{"kg": 4, "t": 5}',
            "behind-time",
            "is the device's clock set",
        ),
        (
            {"time": {"path": "t", "form": "rfc3339"}},
            '{"kg": 4, "t": "2026-03-01T12:00:00"}',
            "time",
            "expected a time as in RFC 3339, with its zone",
        ),
        ({"device": "name"}, '{"kg": 4, "name": "a/b"}', "device", "device (name) is 'a/b', expected a name"),
        ({"device": "name"}, '{"kg": 4}', "device", "device (name) is 'None'"),
        ({"place": "at"}, '{"kg": 4, "at": "a b"}', "place", "place (at) is 'a b'"),
        ({"device": "join('', [n])"}, '{"kg": 4, "n": 1}', "not-understood", "device (join('', [n]))"),
        (
            {"value": [{"quantity": "mass", "path": "kg", "unit_path": "u"}]},
            '{"kg": 4, "u": "stone"}',
            "unit",
            "mass (kg) is '4' in 'stone', expected kg, g, t, [lb_av], [oz_av]",
        ),
    ],
)
def test_what_cannot_be_read_is_refused_by_field_value_and_expectation(
    mapping: dict, payload: str, reason: str, told: str
) -> None:
    with pytest.raises(Refused) as caught:
        made(mapping).read("x/shop/d", payload.encode(), NOW)
    assert caught.value.reason == reason
    assert told in str(caught.value)


def test_a_bad_value_or_record_costs_itself_alone() -> None:
    payload = [{"kg": 4, "p": "x"}, {"kg": 5, "t": 1}, {"kg": 6}]
    translator = made({"each": "[]", "time": {"path": "t || `1772366400`", "form": "unix"}})
    found = translator.read("x/shop/d", json.dumps(payload).encode(), NOW).taken
    assert [reading.value for reading in found.readings] == [4.0, 6.0]
    assert [refused.reason for refused in found.refusals] == ["not-a-number", "behind-time"]


def test_a_place_that_another_worker_owns_is_left_out() -> None:
    translator = made({"place": "at", "topic": "x/{device}"}, ("shop",))
    assert said(translator, "x/d", {"kg": 4, "at": "shop"})[1]
    assert said(translator, "x/d", {"kg": 4, "at": "van"}) == ("van", [])


def test_places_are_subscribed_to_by_name_where_the_topic_has_them() -> None:
    assert made({}).filters() == ["x/+/+"]
    assert made({}, ("shop", "van")).filters() == ["x/shop/+", "x/van/+"]
    assert made({"topic": "x/{device}", "place": "'shop'"}, ("shop",)).filters() == ["x/+"]


def test_the_second_mapping_of_a_topic_reads_what_the_first_does_not() -> None:
    value = [{"quantity": "mass", "path": "lb", "unit": "[lb_av]"}]
    first, second = made({"name": "a", "value": value}), made({})
    both = Translator(first.mappings + second.mappings)
    assert both.read("x/shop/d", b'{"kg": 4}', NOW).mapping == "m"
    assert both.read("x/shop/d", b'{"lb": 4, "kg": 4}', NOW).mapping == "a"


@given(st.floats(-1e9, 1e9), st.floats(NOW - 1e6, NOW))
def test_what_the_inbox_keeps_is_read_to_the_same_numbers(value: float, stamp_s: float) -> None:
    quantities = ("gauge-pressure", "wall-temperature", "mass", "battery")
    readings = [Reading("gauge-3", quantity, stamp_s, value) for quantity in quantities]
    assert read(as_pack("gauge-3", readings), "gauge-3", NOW).readings == readings


json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(st.sampled_from(["kg", "p", "t", "n", "u"]), inner, max_size=4)
    ),
    max_leaves=10,
)
AWKWARD = made(
    {
        "each": "[] || @",
        "device": "join('', [n])",
        "time": {"path": "t", "form": "unix"},
        "value": [
            {"quantity": "mass", "path": "to_number(kg)", "unit_path": "u"},
            {"quantity": "gauge-pressure", "path": "sum(p)", "unit": "kPa"},
        ],
    }
)


@settings(max_examples=400, deadline=None)
@given(st.binary(max_size=40) | json_values.map(lambda value: json.dumps(value).encode()))
def test_no_message_does_anything_but_be_read_or_refused(payload: bytes) -> None:
    try:
        readings = AWKWARD.read("x/shop/d", payload, NOW).taken.readings
    except Refused as error:
        assert error.reason
        return
    assert all(math.isfinite(one.value) and one.stamp_s <= NOW + 60.0 for one in readings)
