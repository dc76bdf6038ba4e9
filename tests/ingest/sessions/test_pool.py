"""Hookups at rest: hibernating, opened once a bin, and the same to the last bit as if they had never hibernated."""

import json
from collections import Counter

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ingest.estimator.settling_settings import SettlingSettings
from ingest.sessions import pool
from ingest.sessions.pipeline import Pipeline
from ingest.sessions.snapshot import serialize
from ingest.wire.hookup import Hookup
from tests.support.feeding import Made, one_device, two_devices

GAUGE, CLAMP = "urn:dev:mac:0024befffe804ff1", "urn:dev:mac:0024befffe804ff2"
HOOKUP = Hookup(7, "C-7", "shop", GAUGE, CLAMP)


def pipeline(*hookups: Hookup) -> Pipeline:
    made = Pipeline(SettlingSettings())
    made.attach(hookups or [HOOKUP])
    return made


@pytest.fixture
def nothing_kept_open(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pool, "KEPT_OPEN", 0)


def disturbed(packs: list[Made], from_s: float) -> list[Made]:
    """Return the packs with the gauge 60 kPa higher from then on."""
    changed = []
    for pack in packs:
        (record,) = json.loads(pack.payload)
        if pack.stamp_s >= from_s and record["n"] == "gauge-pressure":
            record["v"] += 60_000.0
        changed.append(pack._replace(payload=json.dumps([record]).encode()))
    return changed


@settings(max_examples=20, deadline=None)
@given(data=st.data())
def test_hibernating_at_any_time_changes_nothing(data: st.DataObject) -> None:
    packs = two_devices(GAUGE, CLAMP, seed=data.draw(st.integers(0, 30)), duration_s=2400.0)
    packs = disturbed(packs, packs[data.draw(st.integers(200, len(packs) - 1))].stamp_s)
    delay_s = data.draw(st.sampled_from((0.0, 0.3, 40.0, 300.0, -2.0)))
    naps = set(data.draw(st.lists(st.integers(0, len(packs) - 1), max_size=60)))
    plain, hibernated = pipeline(), pipeline()
    for number, pack in enumerate(packs):
        at_s = pack.stamp_s + delay_s
        expected = plain.take("shop", pack.device, pack.payload, at_s)
        assert hibernated.take("shop", pack.device, pack.payload, at_s) == expected
        if number in naps:
            hibernated.sessions.hibernate(7)
    assert serialize(hibernated.sessions[7]) == serialize(plain.sessions[7])
    assert +hibernated.counts == +plain.counts


@pytest.mark.usefixtures("nothing_kept_open")
def test_a_settled_hookup_is_opened_once_a_bin(monkeypatch: pytest.MonkeyPatch) -> None:
    made, plain = pipeline(), pipeline()
    opened: list[int] = []
    restore = pool.restore
    monkeypatch.setattr(pool, "restore", lambda *args: (opened.append(1), restore(*args))[1])
    plain.sessions.rest = lambda _number: None  # type: ignore[method-assign]
    packs = two_devices(GAUGE, CLAMP, seed=3, duration_s=5400.0)
    for pack in packs:
        expected = plain.take("shop", pack.device, pack.payload, pack.stamp_s + 0.3)
        assert made.take("shop", pack.device, pack.payload, pack.stamp_s + 0.3) == expected
    # From 900 s on in bins of 30 s, from 3600 s on of 60 s.
    assert 60 < len(opened) < 150
    assert made.sessions.open == 0
    assert serialize(made.sessions[7]) == serialize(plain.sessions[7])


@pytest.mark.usefixtures("nothing_kept_open")
def test_a_fresh_hookup_stays_open_and_so_does_one_on_a_scale() -> None:
    fresh, weighed = pipeline(), pipeline()
    for pack in two_devices(GAUGE, CLAMP, seed=3, duration_s=1500.0):
        if pack.stamp_s < 1.7e9 + 700.0:
            fresh.take("shop", pack.device, pack.payload, pack.stamp_s + 0.3)
        record = {"n": "mass", "u": "kg", "v": 20.0}
        payload = json.dumps([*json.loads(pack.payload), record]).encode()
        weighed.take("shop", pack.device, payload, pack.stamp_s + 0.3)
    assert fresh.sessions.open == 1
    assert weighed.sessions.open == 1


def test_few_sessions_are_never_hibernated_for_being_at_rest() -> None:
    made = pipeline()
    for pack in two_devices(GAUGE, CLAMP, seed=3, duration_s=1500.0):
        made.take("shop", pack.device, pack.payload, pack.stamp_s + 0.3)
    assert made.sessions.open == 1


def test_a_weight_is_told_at_once() -> None:
    made = pipeline()
    for pack in two_devices(GAUGE, CLAMP, seed=3, duration_s=1500.0):
        made.take("shop", pack.device, pack.payload, pack.stamp_s + 0.3)
        stamp_s = pack.stamp_s
    made.sessions.hibernate(7)
    payload = json.dumps([{"n": "mass", "u": "kg", "bt": stamp_s + 0.5, "v": 20.0}]).encode()
    made.take("shop", CLAMP, payload, stamp_s + 1.0)
    assert made.sessions.open == 1
    assert made.sessions[7].beside_at("mass", stamp_s + 1.0) == 20.0


def test_silence_is_known_of_a_hibernating_session_with_readings_waiting_or_without() -> None:
    device = "urn:dev:mac:01"
    made = pipeline(Hookup(7, "C-7", "shop", device, device))
    packs = one_device(device, seed=2, duration_s=2000.0)
    for pack in packs[:-1]:
        made.take("shop", device, pack.payload, pack.stamp_s + 0.3)
    last_s = packs[-2].stamp_s
    made.sessions.hibernate(7)
    assert not made.sessions.is_silent(7, last_s + 89.0)
    assert made.sessions.is_silent(7, last_s + 91.0)
    assert made.sessions.open == 0
    made.take("shop", device, packs[-1].payload, packs[-1].stamp_s + 0.3)
    assert not made.sessions.is_silent(7, last_s + 91.0)
    assert made.sessions.is_silent(7, packs[-1].stamp_s + 91.0)


def test_a_session_whose_gauge_has_died_and_whose_clamp_goes_on_is_left_open() -> None:
    made = pipeline()
    packs = two_devices(GAUGE, CLAMP, seed=3, duration_s=900.0)
    for pack in packs:
        if pack.device == CLAMP or pack.stamp_s < packs[0].stamp_s + 400.0:
            made.take("shop", pack.device, pack.payload, pack.stamp_s + 0.3)
    assert made.sessions.is_silent(7, packs[-1].stamp_s)
    made.sessions.hibernate(7)
    assert made.sessions.open == 1


def test_bytes_that_cannot_be_read_begin_anew_and_are_counted() -> None:
    counts: Counter[str] = Counter()
    sessions = pool.SessionPool(SettlingSettings(), counts)
    sessions.restore(HOOKUP, b"\0" * 100)
    assert sessions[7].clamp.accepted == 0
    assert counts == {"sessions-unreadable": 1}
