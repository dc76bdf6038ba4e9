"""What a storm's fleet of hookups tells over its time, and what an undisturbed run makes of it."""

from __future__ import annotations

import time
from collections import Counter
from datetime import UTC, datetime
from random import Random
from typing import Any, NamedTuple

import psycopg

from ingest.estimator.settling_settings import SettlingSettings
from ingest.sessions.pipeline import Pipeline
from ingest.wire.hookup import Hookup
from tests.faults.processes import Service
from tests.support.feeding import Made, one_device

PERIOD_S, LASTS_S = 5.0, 900.0
"""Each device tells every so often, for so long after its clamp was put on, [s]."""


class Pair(NamedTuple):
    """A pair as the database's row says it and as the worker's body says it: with the digits that both carry."""

    hookup: int
    settled_at: datetime
    from_at: datetime
    to_at: datetime
    temp_c: float
    gauge_kpa: float
    temp_noise_k: float
    pressure_noise_kpa: float
    provisional: bool
    reasons: tuple[str, ...]


class Season:
    """Packs of many devices; the clamps are put on one after another, so that something settles all the time.

    Parameters
    ----------
    seed : int
        Of the cylinders and of the order.
    hookups : int
        How many devices and cylinders.
    spread_s : float
        Over how long the clamps are put on, in the readings' time, [s].
    playing_s : float
        How long the gateway takes to tell all of it, [s].
    """

    def __init__(self, seed: int, hookups: int, spread_s: float, playing_s: float) -> None:
        rng = Random(seed)
        self.devices = [f"urn:dev:mac:0024beff{seed % 4096:04x}{n:04x}" for n in range(hookups)]
        self.start_s = time.time() + playing_s - spread_s - LASTS_S
        starts = [rng.uniform(0.0, spread_s) for _ in self.devices]
        series = [
            one_device(name, seed * 1000 + n, LASTS_S, PERIOD_S, self.start_s + starts[n])
            for n, name in enumerate(self.devices)
        ]
        self.packs: list[Made] = sorted(pack for packs in series for pack in packs)
        self.rate = len(self.packs) / playing_s

    def register(self, service: Service) -> None:
        """Make a cylinder and a hookup of each device known to the service."""
        since = datetime.fromtimestamp(self.start_s - 60.0, UTC).isoformat()
        marks = {"marks": "DOT-4BA400", "water_capacity_kg": 21.6, "tare_kg": 12.7, "place": "shop"}
        for number, name in enumerate(self.devices):
            serial = f"S-{number:04d}"
            service.call("POST", "/cylinders", "technician", json={"serial": serial, **marks})
            devices = {"pressure_device": name, "temperature_device": name}
            hookup = {"cylinder": serial, "valve": "vapour", "from": since, **devices}
            service.call("POST", "/hookups", "technician", json=hookup)

    def undisturbed(self, service: Service) -> Counter[Pair]:
        """Return what the pure pipeline alone makes of the packs under the service's hookups."""
        items, path = [], "/hookups?active=true&limit=200"
        while path:
            page = service.call("GET", path, "worker")
            items += page["items"]
            path = f"/hookups?active=true&limit=200&after={page['next']}" if page.get("next") else ""
        pipeline = Pipeline(SettlingSettings())
        pipeline.attach([Hookup.from_json(item) for item in items])
        assert len(pipeline.sessions) == len(self.devices)
        return Counter(
            of_body(pair.as_json())
            for pack in self.packs
            for pair in pipeline.take("shop", pack.device, pack.payload, pack.stamp_s + 0.3)
        )


def of_body(body: dict[str, Any]) -> Pair:
    """The pair in a body that the worker posts."""
    times = [datetime.fromisoformat(body[name]) for name in ("settled_at", "from", "to")]
    return Pair(
        body["hookup"],
        *times,
        body["temperature_c"],
        body["gauge_pressure_kpa"],
        body["temperature_uncertainty_k"],
        body["pressure_uncertainty_kpa"],
        body["provisional"],
        tuple(body["reasons"]),
    )


QUERY = """
SELECT hookup_id, settled_at, from_at, to_at, temp_k - 273.15, (pressure_pa - atmosphere_pa) / 1000,
       temp_noise_k, pressure_noise_pa / 1000, provisional, reasons FROM pairs
"""


class Found(NamedTuple):
    """What is in the database: every row of `pairs`, how many events tell of a pair, how many verdicts there are."""

    pairs: Counter[Pair]
    events: int
    verdicts: int


def in_database(url: str) -> Found:
    """Return what is in the database."""
    with psycopg.connect(url, connect_timeout=5) as connection:
        rows = connection.execute(QUERY).fetchall()
        events = connection.execute("SELECT count(*) FROM events WHERE type LIKE '%pair%'").fetchone()
        verdicts = connection.execute("SELECT count(*) FROM verdicts").fetchone()
    assert events is not None
    assert verdicts is not None
    pairs = Counter(
        Pair(*row[:4], *(round(number, 4) for number in row[4:8]), row[8], tuple(row[9])) for row in rows
    )
    return Found(pairs, events[0], verdicts[0])
