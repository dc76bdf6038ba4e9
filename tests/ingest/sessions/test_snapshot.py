"""A session as bytes: exact to the last bit, small at rest, and nothing else can be read from them."""

import pickle
import zlib
from collections.abc import Iterator

import pytest

from ingest.estimator.settling_settings import SettlingSettings
from ingest.sessions import snapshot
from ingest.sessions.pipeline import Pipeline
from ingest.sessions.session import Session
from ingest.sessions.snapshot import layout, opens_s, restore, serialize, silent_from_s
from ingest.wire.hookup import Hookup
from tests.support.feeding import one_device

DEVICE = "urn:dev:mac:0024befffe804ff1"
HOOKUP = Hookup(7, "C-7", "shop", DEVICE, DEVICE)


def stages(seed: int, every: int = 40) -> Iterator[Session]:
    """Yield one session again and again while it warms, settles and comes to rest."""
    pipeline = Pipeline(SettlingSettings())
    pipeline.attach([HOOKUP])
    for number, pack in enumerate(one_device(DEVICE, seed, duration_s=4500.0, period_s=7.0)):
        pipeline.take("shop", DEVICE, pack.payload, pack.stamp_s + 0.3)
        if number % every == 0:
            yield pipeline.sessions[7]


@pytest.mark.parametrize("seed", range(4))
def test_serialized_and_restored_it_is_the_same_to_the_last_bit(seed: int) -> None:
    settings = SettlingSettings()
    for session in stages(seed):
        state = serialize(session)
        again = restore(state, HOOKUP, settings)
        assert again is not None
        assert serialize(again) == state
        assert again.settling.settings is settings
        assert again.settling.estimate() == session.settling.estimate()


def test_at_rest_it_takes_two_kilobytes() -> None:
    *_, session = stages(1)
    assert session.bin_s == 60.0
    assert len(serialize(session)) < 2500


def test_when_it_must_be_opened_and_when_it_is_silent_stands_in_front() -> None:
    *_, session = stages(2)
    state = serialize(session)
    assert opens_s(state) == session.bin_end_s
    assert not session.is_stale(silent_from_s(state))
    assert session.is_stale(silent_from_s(state) + 0.001)
    session.gauge.clock.shift_s = -3.0
    assert opens_s(serialize(session)) == float("-inf")


def test_another_cylinder_device_or_start_is_another_layout() -> None:
    known = layout(HOOKUP)
    others = [
        Hookup(7, "C-8", "shop", DEVICE, DEVICE),
        Hookup(7, "C-7", "shop", DEVICE, "other"),
        Hookup(7, "C-7", "shop", DEVICE, DEVICE, valve="liquid"),
        Hookup(7, "C-7", "shop", DEVICE, DEVICE, from_s=5.0),
    ]
    assert known not in {layout(other) for other in others}
    assert layout(Hookup(7, "C-7", "van", DEVICE, DEVICE, atmosphere_pa=9e4)) == known


@pytest.mark.parametrize("spoilt", [b"", b"x" * 40, pickle.dumps(print), pickle.dumps([1])])
def test_bytes_that_are_no_session_are_none(spoilt: bytes) -> None:
    assert restore(b"\0" * 16 + zlib.compress(spoilt), HOOKUP, SettlingSettings()) is None
    assert restore(spoilt, HOOKUP, SettlingSettings()) is None


def test_what_the_bytes_name_cannot_be_called_from_outside() -> None:
    with pytest.raises(pickle.UnpicklingError, match="restore"):
        snapshot.made(1, 2)
