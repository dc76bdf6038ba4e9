"""What `PUT /live` carries, as the worker itself makes it: the one contract that the tests of both sides use.

The worker's tests check what is made here; those of the service and of the board are given nothing else, so that they
cannot rest on a body which no worker sends.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from datetime import datetime
from pathlib import Path
from typing import Any

from ingest.estimator.settling_settings import SettlingSettings
from ingest.runtime.batching import Batcher
from ingest.runtime.journal import Journal
from ingest.sessions.live import batch
from ingest.sessions.pipeline import Pipeline
from ingest.wire.hookup import Hookup
from ingest.wire.mqtt import Pack
from tests.support.feeding import one_device
from tests.support.workers import FakeListener

SENT = {
    "gauge-pressure": ("Pa", 943_000.0),
    "wall-temperature": ("Cel", 24.0),
    "battery": ("%EL", 80.0),
}
"""SenML unit and value of what a device says unless a test has it say something else."""


def pack(device: str, at_s: float, values: Mapping[str, tuple[str, float]] = SENT) -> bytes:
    """Return one SenML pack of a device."""
    records = [{"n": name, "u": unit, "v": value} for name, (unit, value) in values.items()]
    return json.dumps([{"bn": f"{device}:", "bt": at_s, **records[0]}, *records[1:]]).encode()


def heard(
    *devices: str, at: datetime, place: str = "shop", values: Mapping[str, tuple[str, float]] = SENT
) -> dict[str, Any]:
    """Return the batch of a worker that has heard devices which are on no cylinder."""
    pipeline, at_s = Pipeline(SettlingSettings()), at.timestamp()
    for device in devices:
        pipeline.take(place, device, pack(device, at_s, values), at_s)
    return as_sent(batch(place, pipeline, (), list(devices), at_s))


def following(
    hookup: Mapping[str, Any],
    at: datetime,
    *,
    seconds: float = 1200.0,
    values: Mapping[str, tuple[str, float]] | None = None,
) -> dict[str, Any]:
    """Return the batch of a worker that has followed a hookup for some time, up to `at`.

    Parameters
    ----------
    hookup : mapping
        The hookup as `GET /hookups` tells it, one device serving both.
    at : datetime
        When the last pack came.
    seconds : float
        For how long a simulated cylinder was followed, [s]; a settled one after twenty minutes.
    values : mapping or None
        What the device says beside its pressure and temperature in the last pack.
    """
    attached = Hookup.from_json({**hookup, "from": None})
    pipeline, at_s = Pipeline(SettlingSettings()), at.timestamp()
    pipeline.attach([attached])
    device, place = attached.pressure_device, attached.place
    for made in one_device(device, seed=4, duration_s=seconds, start_s=at_s - seconds):
        pipeline.take(place, device, made.payload, made.stamp_s)
    if values:
        pipeline.take(place, device, pack(device, at_s, values), at_s)
    return as_sent(batch(place, pipeline, [attached.id], [device], at_s))


def unread(folder: Path, device: str, at: datetime, *payloads: bytes) -> dict[str, Any]:
    """Return the batch of a worker that could not read these packs of a device; `folder` is for its file."""
    pipeline, at_s = Pipeline(SettlingSettings()), at.timestamp()
    batcher = Batcher(pipeline, Journal(folder / "unread.sqlite"), FakeListener(), lambda: at_s)
    batcher.process([Pack(n, 1, "shop", device, one, False, at_s) for n, one in enumerate(payloads)])
    batcher.journal.close()
    return as_sent(batch("shop", pipeline, (), [device], at_s))


def without_broker(lost_s: float | None, at: datetime, place: str = "shop") -> dict[str, Any]:
    """Return the batch of a worker with nothing to tell, which has had no broker for so long [s]; None with one."""
    return as_sent(batch(place, Pipeline(SettlingSettings()), (), (), at.timestamp(), broker_lost_s=lost_s))


def with_state(snapshot: Mapping[str, Any], state: str, **values: Any) -> dict[str, Any]:
    """Return what the worker said of a hookup in another state; raises KeyError for a value that it never says."""
    changed = {"settling_state": state, **values}
    if unknown := changed.keys() - snapshot.keys():
        raise KeyError(f"the worker does not say {sorted(unknown)}")
    return {**snapshot, **changed}


def together(*batches: Mapping[str, Any]) -> dict[str, Any]:
    """Return several batches as one, as a worker of all these hookups and devices sends it."""
    parts: dict[str, Sequence[Any]] = {
        name: [item for one in batches for item in one[name]] for name in ("hookups", "devices")
    }
    return {"place": batches[0]["place"], **parts}


def as_sent(body: dict[str, Any]) -> dict[str, Any]:
    """Return a body as it is after its way over HTTP."""
    sent: dict[str, Any] = json.loads(json.dumps(body, allow_nan=False))
    return sent
