"""The CBOR form says what the JSON form says, and is refused as exactly."""

import json
import math
from decimal import Decimal

import cbor2
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ingest.wire.reading import QUANTITIES, Reading, Refused
from ingest.wire.senml import read
from ingest.wire.senml_cbor import LABELS, is_cbor

NOW = 1.7e9
DEVICE = "urn:dev:mac:0024befffe804ff1"
NUMBER = {name: number for number, name in LABELS.items()}


def packed(pack: list[dict]) -> bytes:
    return cbor2.dumps(
        [{NUMBER.get(label, label): value for label, value in record.items()} for record in pack]
    )


def reason(payload: bytes) -> str:
    with pytest.raises(Refused) as caught:
        read(payload, DEVICE, NOW)
    return caught.value.reason


PACK = [
    {"bn": f"{DEVICE}:", "bt": NOW - 3, "n": "gauge-pressure", "u": "hPa", "v": 9420},
    {"n": "wall-temperature", "u": "Cel", "v": 24.5},
    {"n": "mass", "u": "g", "v": 21500},
    {"n": "label", "vs": "left"},
]
SAID = [
    Reading(DEVICE, "gauge-pressure", NOW - 3, 942_000.0),
    Reading(DEVICE, "wall-temperature", NOW - 3, 297.65),
    Reading(DEVICE, "mass", NOW - 3, 21.5),
]


def test_both_forms_say_the_same_and_secondary_units_are_read() -> None:
    assert read(packed(PACK), DEVICE, NOW).readings == SAID
    assert read(json.dumps(PACK), DEVICE, NOW).readings == SAID
    assert read(json.dumps(PACK).encode(), DEVICE, NOW).readings == SAID


def test_it_may_describe_itself_and_be_of_indefinite_length() -> None:
    assert read(b"\xd9\xd9\xf7" + packed(PACK), DEVICE, NOW).readings == SAID
    open_ended = b"\x9f" + packed(PACK)[1:] + b"\xff"
    assert read(open_ended, DEVICE, NOW).readings == SAID


def test_decimal_fractions_are_numbers() -> None:
    pack = [{"n": "wall-temperature", "u": "K", "v": Decimal("295.15")}]
    assert read(packed(pack), DEVICE, NOW).readings[0].value == 295.15


def test_a_bad_record_costs_itself_alone() -> None:
    bad = [{"n": "mass", "u": "kg", "v": math.nan}, {"n": "mass", "u": "lb", "v": 1}]
    found = read(packed([*PACK, *bad]), DEVICE, NOW)
    assert found.readings == SAID
    assert [refused.reason for refused in found.refusals] == ["not-finite", "unit"]


def test_an_unknown_number_is_ignored_and_a_field_that_must_be_understood_is_not() -> None:
    assert read(packed([{**PACK[0], "colour": 1, 99: 2}]), DEVICE, NOW).readings == SAID[:1]
    assert reason(packed([{**PACK[0], "must_": 1}])) == "not-understood"


@pytest.mark.parametrize(
    "payload",
    [
        b"\x81",
        b"\x81" * 100_000,
        b"\x9b\xff\xff\xff\xff\xff\xff\xff\xff",
        b"\x80",
        b"\x81\x01",
        packed(PACK) + b"\x00",
        cbor2.dumps([{"n": "mass", "u": "kg", "v": 1}]),
        b"\x81\xa2\x00\x64mass\x00\x64mass",
        bytes.fromhex("81d81c81d81d00"),
        bytes.fromhex("81a10281d81c81d81d00"),
        bytes.fromhex("81c4821b7fffffffffffffff01"),
    ],
)
def test_what_is_no_pack_is_refused(payload: bytes) -> None:
    assert is_cbor(payload)
    assert reason(payload) == "not-senml"


def test_a_decimal_too_large_for_a_float_is_refused() -> None:
    assert reason(packed([{"n": "mass", "u": "kg", "v": Decimal("1e400")}])) == "not-finite"


cbor_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8) | st.binary(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.integers(-7, 9), inner, max_size=3),
    max_leaves=8,
)
near_senml = st.lists(
    st.dictionaries(
        st.integers(-7, 9), st.sampled_from([*QUANTITIES, "Pa", "K", "kg", 10]) | cbor_values, max_size=5
    ),
    max_size=4,
)


@settings(max_examples=400, deadline=None)
@given(
    st.binary(max_size=60).map(lambda tail: b"\x82" + tail)
    | (cbor_values | near_senml).map(cbor2.dumps)
    | near_senml.map(cbor2.dumps).flatmap(lambda pack: st.integers(0, len(pack)).map(lambda n: pack[:n]))
)
def test_no_pack_does_anything_but_be_read_or_refused(payload: bytes) -> None:
    try:
        readings = read(payload, DEVICE, NOW).readings
    except Refused as error:
        assert error.reason
        return
    for reading in readings:
        assert math.isfinite(reading.value)
        assert reading.stamp_s <= NOW + 60.0
