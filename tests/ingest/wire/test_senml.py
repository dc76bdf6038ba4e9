"""Packs: the strict rules on top of RFC 8428, and no pack that crashes the reader."""

import json
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ingest.wire.senml import QUANTITIES, Reading, Refused, read, resolve

NOW = 1.7e9
DEVICE = "urn:dev:mac:0024befffe804ff1"


def refused(pack: object, device: str = DEVICE) -> str:
    text = pack if isinstance(pack, (str, bytes)) else json.dumps(pack)
    with pytest.raises(Refused) as caught:
        read(text, device, NOW)
    return caught.value.reason


def test_all_quantities_arrive_in_si() -> None:
    pack = [
        {"bn": f"{DEVICE}:", "bt": NOW - 3, "n": "gauge-pressure", "u": "Pa", "v": 1.0e6},
        {"n": "wall-temperature", "u": "Cel", "v": 25.0},
        {"n": "ambient-temperature", "u": "K", "v": 293.0},
        {"n": "ambient-pressure", "u": "Pa", "v": 1.0e5},
        {"n": "mass", "u": "kg", "v": 21.5},
        {"n": "battery", "u": "%EL", "v": 80},
    ]
    assert read(json.dumps(pack), DEVICE, NOW) == [
        Reading(DEVICE, "gauge-pressure", NOW - 3, 1.0e6),
        Reading(DEVICE, "wall-temperature", NOW - 3, 298.15),
        Reading(DEVICE, "ambient-temperature", NOW - 3, 293.0),
        Reading(DEVICE, "ambient-pressure", NOW - 3, 1.0e5),
        Reading(DEVICE, "mass", NOW - 3, 21.5),
        Reading(DEVICE, "battery", NOW - 3, 80.0),
    ]


@pytest.mark.parametrize("prefix", ["", f"{DEVICE}:", f"{DEVICE}_"])
def test_the_device_is_named_by_the_prefix_or_by_the_topic(prefix: str) -> None:
    pack = [{"n": f"{prefix}wall-temperature", "u": "K", "v": 295.0}]
    assert read(json.dumps(pack), DEVICE, NOW)[0].device == DEVICE


def test_a_topic_of_a_urn_speaks_for_itself_alone() -> None:
    pack = [{"n": "urn:dev:mac:ffff:wall-temperature", "u": "K", "v": 295.0}]
    assert refused(pack) == "device"
    assert read(json.dumps(pack), "clamp-7", NOW)[0].device == "urn:dev:mac:ffff"


def test_other_quantities_are_left_out() -> None:
    pack = [{"n": "humidity", "u": "%RH", "v": 40}, {"n": "wall-temperature", "u": "K", "v": 295.0}]
    assert [r.quantity for r in read(json.dumps(pack), DEVICE, NOW)] == ["wall-temperature"]


@pytest.mark.parametrize(
    ("pack", "reason"),
    [
        ("nonsense", "not-senml"),
        (b"\xff\xfe", "not-senml"),
        ("{}", "not-senml"),
        ("[]", "not-senml"),
        ("[1]", "not-senml"),
        ("[" * 100_000, "not-senml"),
        ('[{"n":"mass","u":"kg","v":NaN}]', "not-finite"),
        ('[{"n":"mass","u":"kg","v":Infinity}]', "not-finite"),
        ('[{"n":"mass","u":"kg","v":1e999}]', "not-finite"),
        ('[{"n":"mass","u":"kg","v":' + "9" * 400 + "}]", "not-finite"),
        ('[{"bv":1e308,"n":"mass","u":"kg","v":1e308}]', "not-finite"),
        ([{"n": "mass", "u": "kg", "v": "21"}], "not-senml"),
        ([{"n": "mass", "u": "kg", "v": True}], "not-senml"),
        ([{"n": "mass", "u": "kg", "vs": "21"}], "not-a-number"),
        ([{"n": "mass", "u": "kg", "v": 1, "vs": "x"}], "not-senml"),
        ([{"n": "mass", "u": "kg"}], "not-senml"),
        ([{"n": "mass", "u": "lb", "v": 1}], "unit"),
        ([{"n": "mass", "v": 1}], "unit"),
        ([{"n": "wall-temperature", "u": "Fah", "v": 70}], "unit"),
        ([{"n": "mass", "u": "kg", "v": 1, "t": NOW + 61}], "ahead-of-time"),
        ([{"n": "mass", "u": "kg", "v": 1, "t": 61}], "ahead-of-time"),
        ([{"n": "mass", "u": "kg", "v": 1, "must_": 1}], "not-understood"),
        ([{"bver": 11, "n": "mass", "u": "kg", "v": 1}], "version"),
        ([{"n": "mass", "u": "kg", "v": 1}, {"bver": 5, "n": "mass", "u": "kg", "v": 1}], "version"),
        ([{"n": "-mass", "u": "kg", "v": 1}], "name"),
        ([{"n": "mäss", "u": "kg", "v": 1}], "name"),
        ([{"u": "kg", "v": 1}], "name"),
    ],
)
def test_refused_as_a_whole_with_a_reason_to_count_by(pack: object, reason: str) -> None:
    assert refused(pack) == reason


def test_sixty_seconds_ahead_is_still_taken() -> None:
    pack = [{"n": "mass", "u": "kg", "v": 1, "t": NOW + 60}]
    assert read(json.dumps(pack), DEVICE, NOW)[0].stamp_s == NOW + 60


def test_unknown_fields_are_ignored() -> None:
    assert read('[{"n":"mass","u":"kg","v":1,"colour":"red"}]', DEVICE, NOW)[0].value == 1.0


json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=6), inner, max_size=6),
    max_leaves=20,
)
labels = st.sampled_from(
    ["bn", "bt", "bu", "bv", "bs", "bver", "n", "u", "v", "vs", "vb", "vd", "s", "t", "ut", "x_"]
)
near_senml = st.lists(
    st.dictionaries(
        labels, st.sampled_from([*QUANTITIES, DEVICE + ":", "Pa", "K", "kg", 10]) | json_values, max_size=6
    ),
    max_size=5,
)


@settings(max_examples=400, deadline=None)
@given(
    st.binary(max_size=200)
    | st.text(max_size=200).map(str.encode)
    | (json_values | near_senml).map(json.dumps)
)
def test_no_pack_does_anything_but_be_read_or_refused(payload: bytes | str) -> None:
    try:
        readings = read(payload, DEVICE, NOW)
    except Refused as error:
        assert error.reason
        return
    for reading in readings:
        assert math.isfinite(reading.value)
        assert reading.stamp_s <= NOW + 60.0


numbers = st.floats(-1e6, 1e6)


@given(
    st.lists(st.tuples(st.sampled_from(QUANTITIES), numbers, st.floats(-1e5, 0.0)), min_size=1, max_size=10),
    st.floats(1.5e9, NOW),
)
def test_base_values_say_the_same_as_full_records(
    rows: list[tuple[str, float, float]], base_s: float
) -> None:
    """The same values, once with bases and once without, resolve alike."""
    short = [{"n": name, "u": "Pa", "v": value, "t": t} for name, value, t in rows]
    short[0] = {"bn": "urn:dev:x:", "bt": base_s, **short[0]}
    full = [{"n": f"urn:dev:x:{name}", "u": "Pa", "v": value, "t": base_s + t} for name, value, t in rows]
    assert resolve(json.dumps(short), NOW) == resolve(json.dumps(full), NOW)
