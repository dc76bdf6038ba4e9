"""A session that its readings have confused begins anew; the worker goes on."""

import pytest

from ingest.estimator.bin_input import SensorSetup
from ingest.estimator.settling import Settling
from ingest.estimator.settling_settings import SettlingSettings
from ingest.sessions.pipeline import Pipeline
from ingest.sessions.session import LIQUID_COLUMN_PA
from ingest.wire.hookup import Hookup
from tests.support.feeding import one_device

DEVICE = "urn:dev:mac:0024befffe804ff1"


def test_filters_that_lose_their_numbers_end_neither_the_worker_nor_the_hookup(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    step, calls = Settling.step, [0]

    def confused(settling: Settling, *bin_: object) -> None:
        calls[0] += 1
        if calls[0] == 5:
            raise FloatingPointError("the filters have lost their numbers")
        step(settling, *bin_)  # type: ignore[arg-type]

    monkeypatch.setattr(Settling, "step", confused)
    pipeline = Pipeline(SettlingSettings())
    pipeline.attach([Hookup(7, "C-7", "shop", DEVICE, DEVICE, valve="liquid", probe_lag_s=50.0)])
    setup = pipeline.sessions[7].settling.setup
    pairs = []
    for pack in one_device(DEVICE, seed=4):
        pairs += pipeline.take("shop", DEVICE, pack.payload, pack.stamp_s + 0.3)
    assert pipeline.counts["sessions-begun-anew"] == 1
    assert len(pairs) == 1
    # What a dip tube may hold, and the remembered lag, were forgotten with the filters once.
    assert pipeline.sessions[7].settling.setup == setup == SensorSetup(50.0, LIQUID_COLUMN_PA)
    assert pairs[0].pressure_uncertainty_pa >= LIQUID_COLUMN_PA
