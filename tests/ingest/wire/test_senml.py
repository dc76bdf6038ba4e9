"""Packs: the strict rules on top of RFC 8428, and no pack that crashes the reader."""

import json
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ingest.wire.reading import QUANTITIES, Reading, Refused
from ingest.wire.senml import read, resolve

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
    assert read(json.dumps(pack), DEVICE, NOW).readings == [
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
    assert read(json.dumps(pack), DEVICE, NOW).readings[0].device == DEVICE


def test_a_topic_of_a_urn_speaks_for_itself_alone() -> None:
    pack = [{"n": "urn:dev:mac:ffff:wall-temperature", "u": "K", "v": 295.0}]
    assert refused(pack) == "device"
    assert read(json.dumps(pack), "clamp-7", NOW).readings[0].device == "urn:dev:mac:ffff"


def test_a_topic_of_a_urn_speaks_for_its_own_sensors_too() -> None:
    pack = [{"n": f"{DEVICE}_low:gauge-pressure", "u": "Pa", "v": 9e5}]
    assert read(json.dumps(pack), DEVICE, NOW).readings[0].device == f"{DEVICE}_low"
    assert read(json.dumps(pack), f"{DEVICE}_high", NOW).readings[0].device == f"{DEVICE}_low"
    pack = [{"n": f"{DEVICE}0_low:gauge-pressure", "u": "Pa", "v": 9e5}]
    assert refused(pack) == "device"


def test_other_quantities_are_left_out_and_counted() -> None:
    pack = [{"n": "humidity", "u": "%RH", "v": 40}, {"n": "wall-temperature", "u": "K", "v": 295.0}]
    assert [r.quantity for r in read(json.dumps(pack), DEVICE, NOW).readings] == ["wall-temperature"]
    assert read(json.dumps(pack), DEVICE, NOW).unknown == ["humidity"]


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
def test_a_pack_of_which_nothing_can_be_read_is_refused_with_a_reason_to_count_by(
    pack: object, reason: str
) -> None:
    assert refused(pack) == reason


GOOD = {"n": "gauge-pressure", "u": "Pa", "v": 9e5}


@pytest.mark.parametrize(
    ("bad", "reason", "told"),
    [
        ({"n": "mass", "u": "lb", "v": 1}, "unit", "mass = 1 is in 'lb', expected kg or g"),
        (
            {"n": "ambient-pressure", "u": "kPa", "v": 99},
            "unit",
            "ambient-pressure = 99 is in 'kPa', expected Pa or hPa",
        ),
        (
            {"n": "mass", "u": "kg", "v": "21"},
            "not-senml",
            "record 1 (mass): field 'v' is '21', expected a number",
        ),
        ({"n": "mass", "u": "kg", "vs": "21"}, "not-a-number", "mass is '21', expected a numeric value"),
        (
            {"n": "mass", "u": "kg", "v": math.nan},
            "not-finite",
            "record 1 (mass): field 'v' is 'nan', expected a finite number",
        ),
        (
            {"n": "mass", "u": "kg", "v": 1, "t": 61},
            "ahead-of-time",
            "mass is stamped 61 s ahead of now, expected at most 60 s",
        ),
        ({"n": "mäss", "u": "kg", "v": 1}, "name", "record 1: 'mäss' is not a SenML name"),
        (
            {"n": "urn:dev:x:mass", "u": "kg", "v": 1},
            "device",
            f"urn:dev:x:mass published on the topic of {DEVICE}",
        ),
    ],
)
def test_a_bad_record_costs_itself_alone(bad: dict, reason: str, told: str) -> None:
    """The record after it, which is judged with the same bases, is taken like the one before it."""
    after = {"n": "wall-temperature", "u": "K", "v": 295.0}
    found = read(json.dumps([GOOD, bad, after]), DEVICE, NOW)
    assert found.readings == [
        Reading(DEVICE, "gauge-pressure", NOW, 9e5),
        Reading(DEVICE, "wall-temperature", NOW, 295.0),
    ]
    assert [(refused.reason, str(refused)) for refused in found.refusals] == [(reason, told)]


@pytest.mark.parametrize(
    ("bad", "reason"),
    [
        ({"bt": "now", "n": "mass", "u": "kg", "v": 1}, "not-senml"),
        ({"bv": math.inf, "n": "mass", "u": "kg", "v": 1}, "not-finite"),
        ({"n": "mass", "u": "kg", "v": 1, "must_": 1}, "not-understood"),
        (1, "not-senml"),
    ],
)
def test_what_other_records_would_share_refuses_the_pack(bad: object, reason: str) -> None:
    assert refused([GOOD, bad]) == reason


def test_a_bad_record_still_hands_its_bases_on() -> None:
    pack = [{"bn": f"{DEVICE}:", "bu": "Pa", "n": "mass", "v": 1}, {"n": "gauge-pressure", "v": 9e5}]
    assert read(json.dumps(pack), DEVICE, NOW).readings == [Reading(DEVICE, "gauge-pressure", NOW, 9e5)]


def test_many_refused_records_are_told_in_few_words() -> None:
    with pytest.raises(Refused) as caught:
        read(json.dumps([{"n": "mass", "u": "lb", "v": 1}] * 500), DEVICE, NOW)
    assert str(caught.value).count("expected kg or g") == 10
    assert str(caught.value).endswith("and 490 more")


def test_sixty_seconds_ahead_is_still_taken() -> None:
    pack = [{"n": "mass", "u": "kg", "v": 1, "t": NOW + 60}]
    assert read(json.dumps(pack), DEVICE, NOW).readings[0].stamp_s == NOW + 60


def test_unknown_fields_are_ignored() -> None:
    assert read('[{"n":"mass","u":"kg","v":1,"colour":"red"}]', DEVICE, NOW).readings[0].value == 1.0


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
        readings = read(payload, DEVICE, NOW).readings
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
