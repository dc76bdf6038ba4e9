"""The whole pure pipeline: routing, refusals, pairs, and event time."""

import contextlib
import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ingest.estimator.settling_settings import SettlingSettings
from ingest.sessions.pairing import EquilibriumPair
from ingest.sessions.pipeline import Pipeline
from ingest.wire.hookup import Hookup
from ingest.wire.reading import Refused
from tests.support.feeding import START, Made, one_device, two_devices

GAUGE, CLAMP = "urn:dev:mac:0024befffe804ff1", "urn:dev:mac:0024befffe804ff2"


def pipeline(*hookups: Hookup) -> Pipeline:
    made = Pipeline(SettlingSettings())
    made.attach(hookups)
    return made


def feed(made: Pipeline, packs: list[Made], arrival: list[float] | None = None) -> list[EquilibriumPair]:
    pairs: list[EquilibriumPair] = []
    for i, pack in enumerate(packs):
        at = arrival[i] if arrival else pack.stamp_s + 0.3
        pairs += made.take("shop", pack.device, pack.payload, at)
    return pairs


@pytest.fixture(scope="module")
def packs() -> list[Made]:
    return two_devices(GAUGE, CLAMP, seed=3)


def hookup(**changes: object) -> Hookup:
    known = {
        "id": 7,
        "cylinder": "C-7",
        "place": "shop",
        "pressure_device": GAUGE,
        "temperature_device": CLAMP,
    }
    return Hookup(**{**known, **changes})


def test_a_fresh_clamp_settles_into_one_pair(packs: list[Made]) -> None:
    pairs = feed(pipeline(hookup()), packs)
    assert len(pairs) == 1
    pair = pairs[0]
    assert START + 120 <= pair.settled_at_s <= START + 1200
    assert pair.temp_k == pytest.approx(294.3, abs=0.4)
    body = pair.as_json()
    assert body["hookup"] == 7
    assert body["provisional"] is False
    assert body["gauge_pressure_kpa"] == pytest.approx(pair.pressure_pa / 1e3)
    assert "liquid-untested" in body["reasons"]


@settings(max_examples=25, deadline=None)
@given(data=st.data())
def test_a_backlog_in_seconds_gives_the_pairs_of_live_delivery(data: st.DataObject) -> None:
    """However the two devices' backlogs interleave and however fast they come, each in its own order."""
    live = two_devices(GAUGE, CLAMP, seed=data.draw(st.integers(0, 5)), duration_s=900)
    expected = [pair.as_json() for pair in feed(pipeline(hookup()), live)]
    queues = {name: [p for p in live if p.device == name] for name in (GAUGE, CLAMP)}
    order: list[Made] = []
    while any(queues.values()):
        waiting = [name for name, queue in queues.items() if queue]
        name = data.draw(st.sampled_from(waiting))
        count = data.draw(st.integers(1, 200))
        order += queues[name][:count]
        queues[name] = queues[name][count:]
    arrival, now = [], START + 10_000.0
    for _ in order:
        now += data.draw(st.sampled_from((0.0, 0.001, 0.05)))
        arrival.append(now)
    assert [pair.as_json() for pair in feed(pipeline(hookup()), order, arrival)] == expected


def test_readings_before_the_hookup_are_not_of_this_cylinder(packs: list[Made]) -> None:
    made = pipeline(hookup(from_s=START + 900.0))
    feed(made, [p for p in packs if p.stamp_s < START + 900.0])
    assert made.counts["dropped:before-hookup"] > 100
    assert made.sessions[7].clamp.accepted == 0


def test_an_unattached_device_is_seen_with_its_last_values(packs: list[Made]) -> None:
    made = pipeline()
    assert feed(made, packs[:20]) == []
    assert set(made.devices) == {GAUGE, CLAMP}
    assert made.devices[CLAMP].place == "shop"
    assert "wall-temperature" in made.devices[CLAMP].newest


def test_a_refused_pack_is_counted_and_changes_nothing(packs: list[Made]) -> None:
    made = pipeline(hookup())
    feed(made, packs[:50])
    before = (dict(made.devices), made.sessions[7].clamp.accepted)
    bad = json.dumps([{"n": "wall-temperature", "u": "F", "bt": START + 60, "v": 70.0}]).encode()
    with pytest.raises(Refused, match="expected Cel or K"):
        made.take("shop", CLAMP, bad, START + 61)
    assert made.counts["refused:unit"] == 1
    assert (dict(made.devices), made.sessions[7].clamp.accepted) == before


def test_a_short_device_name_used_in_two_places_means_the_one_here() -> None:
    here = hookup(id=1, place="shop", pressure_device="p1", temperature_device="p1")
    there = hookup(id=2, place="van", pressure_device="p1", temperature_device="p1")
    made = pipeline(here, there)
    pack = json.dumps([{"n": "wall-temperature", "u": "K", "bt": START, "v": 295.0}]).encode()
    made.take("van", "p1", pack, START + 1)
    assert made.sessions[1].clamp.accepted == 0
    assert made.sessions[2].clamp.accepted == 1


def test_each_sensor_is_taken_from_its_own_device() -> None:
    made = pipeline(hookup())
    pack = json.dumps([{"n": "wall-temperature", "u": "K", "bt": START, "v": 295.0}]).encode()
    made.take("shop", GAUGE, pack, START + 1)
    assert made.counts["dropped:other-sensor"] == 1


def test_hookups_end_and_a_changed_one_begins_anew(packs: list[Made]) -> None:
    made = pipeline(hookup())
    feed(made, packs[:100])
    assert made.attach([hookup()]) == []
    assert made.sessions[7].clamp.accepted > 0
    assert len(made.attach([hookup(valve="liquid")])) == 1
    assert made.sessions[7].clamp.accepted == 0
    made.attach([])
    assert made.sessions == {}
    assert feed(made, packs[100:110]) == []


def test_a_barometer_goes_along_with_the_pair() -> None:
    device = "urn:dev:mac:0024befffe804ff9"
    made = pipeline(hookup(pressure_device=device, temperature_device=device))
    pairs: list[EquilibriumPair] = []
    for pack in one_device(device, seed=2):
        records = [*json.loads(pack.payload), {"n": "ambient-pressure", "u": "Pa", "v": 83_400.0}]
        pairs += made.take("shop", device, json.dumps(records).encode(), pack.stamp_s + 0.2)
    assert pairs[0].as_json()["ambient_pressure_kpa"] == pytest.approx(83.4)


def test_an_absolute_sensor_posts_absolute_pressure() -> None:
    device = "urn:dev:mac:0024befffe804ff9"
    made = pipeline(hookup(pressure_device=device, temperature_device=device))
    pairs: list[EquilibriumPair] = []
    for pack in one_device(device, seed=2):
        records = json.loads(pack.payload)
        records[0]["n"], records[0]["v"] = "absolute-pressure", records[0]["v"] + 101_325.0
        pairs += made.take("shop", device, json.dumps(records).encode(), pack.stamp_s + 0.2)
    body = pairs[0].as_json()
    assert "gauge_pressure_kpa" not in body
    assert body["absolute_pressure_kpa"] == pytest.approx(580.0, rel=0.05)


def test_a_hookup_by_sensor_hears_its_own_sensors_alone_and_a_replay_finds_them() -> None:
    device = "urn:dev:mac:0024befffe804ff9"
    by_sensor = hookup(pressure_device=f"{device}_low", temperature_device=f"{device}_pipe")
    made, whole = pipeline(by_sensor), pipeline(hookup(pressure_device=device, temperature_device=device))
    again = pipeline(by_sensor)
    pairs, replayed = [], []
    for pack in one_device(device, seed=2):
        low, pipe = json.loads(pack.payload)
        records = [
            {**low, "bn": "", "n": f"{device}_low:gauge-pressure"},
            {**low, "bn": "", "n": f"{device}_high:gauge-pressure", "v": 2.0e6},
            {**pipe, "n": f"{device}_pipe:wall-temperature"},
        ]
        sent = json.dumps(records).encode()
        pairs += made.take("shop", device, sent, pack.stamp_s + 0.2)
        whole.take("shop", device, sent, pack.stamp_s + 0.2)
        replayed += again.refeed("shop", device, sent, pack.stamp_s + 0.2, lambda _n: True)
    (expected,) = feed(
        pipeline(hookup(pressure_device=device, temperature_device=device)), one_device(device, seed=2)
    )
    assert [pair.as_json() for pair in pairs] == [expected.as_json()]
    assert replayed == pairs
    assert not whole.sessions[7].gauge.accepted, "of two gauges none is taken for the device's own"
    assert set(made.devices) == {f"{device}_low", f"{device}_high", f"{device}_pipe"}


def test_the_battery_of_a_device_is_that_of_its_sensors_and_no_others() -> None:
    device = "urn:dev:mac:0024befffe804ff9"
    mine = hookup(pressure_device=f"{device}_low", temperature_device=f"{device}_pipe")
    half = hookup(id=8, cylinder="C-8", pressure_device=f"{device}_high", temperature_device=CLAMP)
    other = hookup(id=9, cylinder="C-9")
    made, again = pipeline(mine, half, other), pipeline(mine, half, other)

    def said(name: str, unit: str, value: float, after_s: float) -> None:
        pack = json.dumps([{"n": name, "u": unit, "v": value, "bt": START + after_s}]).encode()
        made.take("shop", device, pack, START + after_s)
        again.refeed("shop", device, pack, START + after_s, lambda _number: True)

    said(f"{device}:battery", "%EL", 4.0, 0.0)
    for one in (made, again):
        assert one.sessions[7].battery == {f"{device}_low": 4.0, f"{device}_pipe": 4.0}
        assert one.sessions[8].battery == {f"{device}_high": 4.0}
        assert one.sessions[9].battery == {}
    said(f"{device}_pipe:wall-temperature", "K", 295.0, 1.0)
    assert made.counts["dropped:battery-empty"] == 1
    # A sensor with a battery of its own speaks for itself, as the last that was heard.
    said(f"{device}_pipe:battery", "%EL", 90.0, 2.0)
    assert made.sessions[7].battery == {f"{device}_low": 4.0, f"{device}_pipe": 90.0}
    said(f"{device}_pipe:wall-temperature", "K", 295.0, 3.0)
    assert made.sessions[7].clamp.accepted == 1


def test_two_probes_on_one_cylinder_that_differ_are_told() -> None:
    one, other = "urn:dev:mac:01", "urn:dev:mac:02"
    made = pipeline(
        hookup(id=1, cylinder="C", pressure_device=one, temperature_device=one),
        hookup(id=2, cylinder="C", pressure_device=other, temperature_device=other),
    )
    for pack in one_device(one, seed=2):
        made.take("shop", one, pack.payload, pack.stamp_s + 0.2)
        records = json.loads(pack.payload.replace(one.encode(), other.encode()))
        records[1]["v"] += 4.0
        made.take("shop", other, json.dumps(records).encode(), pack.stamp_s + 0.2)
    assert made.disagreeing(made.sessions[1])
    assert made.disagreeing(made.sessions[2])
    alike = pipeline(
        hookup(id=1, cylinder="C", pressure_device=one, temperature_device=one),
        hookup(id=2, cylinder="C", pressure_device=one, temperature_device=one),
    )
    feed(alike, one_device(one, seed=2))
    assert not alike.disagreeing(alike.sessions[1])


def one(stamp_s: float, quantity: str, value: float, unit: str = "K") -> bytes:
    return json.dumps([{"n": quantity, "u": unit, "t": stamp_s, "v": value}]).encode()


@pytest.mark.parametrize(
    ("count", "packs"),
    [
        ("dropped:duplicate", [(0.0, "wall-temperature", 294.0, 0.0)] * 2),
        ("dropped:late", [(9.0, "wall-temperature", 294.0, 9.0), (3.0, "wall-temperature", 294.1, 10.0)]),
        ("dropped:out-of-range", [(0.0, "wall-temperature", 100.0, 0.0)]),
        (
            "dropped:wild",
            [(5.0 * i, "wall-temperature", 340.0 if i == 8 else 294.0, 5.0 * i) for i in range(10)],
        ),
        (
            "dropped:battery-empty",
            [(0.0, "battery", 3.0, 0.0), (1.0, "wall-temperature", 294.0, 1.0)],
        ),
        ("battery-low", [(0.0, "battery", 12.0, 0.0)]),
        ("dropped:before-hookup", [(-1e8, "wall-temperature", 294.0, 0.0)]),
        ("refused:behind-time", [(-4e8, "wall-temperature", 294.0, 0.0)]),
        ("refused:ahead-of-time", [(61.5, "wall-temperature", 294.0, 0.0)]),
        ("refused:ahead-of-time", [(300.0 - START, "wall-temperature", 294.0, 0.0)]),
    ],
    ids=[
        "duplicate",
        "late",
        "range",
        "wild",
        "battery",
        "low battery",
        "clock of an earlier year",
        "clock that was never set",
        "ahead",
        "clock at 1970",
    ],
)
def test_every_rule_of_reading_quality_is_counted(
    count: str, packs: list[tuple[float, str, float, float]]
) -> None:
    """A clock at 1970 counts from its start, which SenML reads as seconds from now: refused until it is set."""
    made = pipeline(hookup(from_s=START - 60.0))
    for stamp_s, quantity, value, arrival_s in packs:
        unit = "%EL" if quantity == "battery" else "K"
        with contextlib.suppress(Refused):
            made.take("shop", CLAMP, one(START + stamp_s, quantity, value, unit), START + arrival_s)
    assert made.counts[count] >= 1
