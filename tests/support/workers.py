"""A worker without a broker, a service or a clock of its own."""

from __future__ import annotations

import json
import queue
from pathlib import Path
from typing import Any

from ingest.estimator.settling_settings import SettlingSettings
from ingest.runtime.journal import Journal
from ingest.runtime.settings import Settings
from ingest.runtime.worker import Worker
from ingest.sessions.pipeline import Pipeline
from ingest.wire.hookup import Hookup
from ingest.wire.mqtt import BrokerSettings, Pack
from tests.support.feeding import START, Made


class FakeListener:
    """The broker's side without a broker."""

    def __init__(self) -> None:
        self.packs: queue.SimpleQueue[Pack] = queue.SimpleQueue()
        self.acknowledged: list[int] = []
        self.refusals: list[tuple[str, str]] = []
        self.refused: dict[int, str] = {}
        self.connected = True
        self.foreign: list[str] = []
        self.unheard: set[str] = set()
        self.published: list[tuple[str, bytes]] = []

    def publish(self, topic: str, payload: bytes, qos: int = 0) -> None:
        self.published.append((topic, payload))

    def acknowledge(self, packs: list[Pack]) -> None:
        self.acknowledged += [pack.mid for pack in packs]

    def listen_to(self, foreign: list[str]) -> None:
        self.foreign = list(foreign)

    def publish_refusal(self, pack: Pack, reason: str, detail: str) -> None:
        self.refusals.append((pack.device, reason))
        self.refused[pack.mid] = reason

    def deliver(self, made: list[Made], *, retained: bool = False) -> None:
        for number, pack in enumerate(made):
            self.packs.put(
                Pack(number + 1, 1, "shop", pack.device, pack.payload, retained, pack.stamp_s + 0.3)
            )


class MovedClock:
    """A wall clock that stands where a test puts it."""

    def __init__(self, now_s: float) -> None:
        self.now_s = now_s

    def __call__(self) -> float:
        return self.now_s


def made_worker(
    folder: Path, hookups: list[dict[str, Any]] | None = None, now_s: float = START + 5000
) -> Worker:
    """Return a worker over a folder; started again over the same one it goes on where it was."""
    settings = Settings(
        "http://127.0.0.1:1",
        "t",
        BrokerSettings("127.0.0.1", 1, None, None, "heelmark", (), "x"),
        folder,
        SettlingSettings(),
    )
    worker = Worker(
        settings,
        Pipeline(settings.settling),
        Journal(folder / "w.sqlite"),
        FakeListener(),
        MovedClock(now_s),
    )
    worker.restore()
    if hookups is not None:
        worker.new_hookups.put(([Hookup.from_json(item) for item in hookups], json.dumps(hookups)))
        worker.turn()
    return worker
