"""SIGTERM: the worker keeps what it has in hand and ends within the set time, whatever hangs."""

import signal
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from ingest.estimator.settling_settings import SettlingSettings
from ingest.runtime.settings import Settings
from ingest.runtime.wiring import EXIT_OK, Running
from ingest.wire.hookup import Hookup
from ingest.wire.mqtt import BrokerSettings, Pack
from tests.ingest.runtime.test_end_to_end import DEVICE, Bench
from tests.support.broker import needs_mosquitto
from tests.support.fake_service import hookup
from tests.support.feeding import one_device
from tests.support.proxy import Proxy
from tests.support.waiting import until

pytestmark = [needs_mosquitto, pytest.mark.broker]
DRAIN_S, SLACK_S = 2.0, 4.0
"""The set time, and what interpreters and threads may take beside it on an idle machine, [s]."""


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    made = Bench(tmp_path)
    made.service.hookups = [hookup(7, DEVICE)]
    yield made
    made.stop()


def started_s(bench: Bench, **changes: str) -> tuple[subprocess.Popen[bytes], float]:
    """A worker that is at work, and how long that took, [s]: a busy machine ends one as slowly as it starts it."""
    began = time.monotonic()
    worker = bench.worker(**changes)
    until(lambda: bench.status().get("sessions") == 1, 60)
    return worker, time.monotonic() - began


def stopped_after_s(worker: subprocess.Popen[bytes]) -> float:
    asked = time.monotonic()
    worker.send_signal(signal.SIGTERM)
    assert worker.wait(timeout=60) == 0
    return time.monotonic() - asked


def test_a_backlog_that_does_not_fit_into_the_set_time_stays_with_the_broker(bench: Bench) -> None:
    packs = one_device(DEVICE, seed=4, duration_s=1200, period_s=0.5, start_s=time.time() - 1500)
    worker, took_s = started_s(bench, HEELMARK_WORKER_DRAIN_S="0")
    worker.send_signal(signal.SIGSTOP)
    bench.publish(packs)
    worker.send_signal(signal.SIGCONT)
    assert stopped_after_s(worker) < SLACK_S + took_s
    bench.worker()
    until(lambda: len(bench.service.pairs) == 1, 30)
    until(lambda: bench.status().get("outbox") == {"posted": 1})


def test_neither_a_broker_nor_a_service_that_hangs_delays_the_end(bench: Bench) -> None:
    to_broker, to_service = Proxy(bench.broker.port).start(), Proxy(bench.service.port).start()
    url = f"http://127.0.0.1:{to_service.port}"
    worker, took_s = started_s(
        bench,
        HEELMARK_WORKER_DRAIN_S=str(DRAIN_S),
        HEELMARK_MQTT_PORT=str(to_broker.port),
        HEELMARK_SERVICE_URL=url,
    )
    bench.publish(one_device(DEVICE, seed=4, duration_s=300, start_s=time.time() - 1500))
    to_broker.hold(True)
    to_service.hold(True)
    time.sleep(4.0)
    taken_s = stopped_after_s(worker)
    for link in (to_broker, to_service):
        link.hold(False)
        link.stop()
    assert taken_s < DRAIN_S + SLACK_S + took_s


def test_draining_ends_at_the_set_time_and_moves_every_replay_point(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    broker = BrokerSettings("127.0.0.1", 1, None, None, "heelmark", (), "x")
    running = Running(Settings("http://127.0.0.1:1", "t", broker, tmp_path, SettlingSettings(), drain_s=0.5))
    running.pipeline.attach([Hookup.from_json(hookup(7, DEVICE))])
    for number in range(100):
        running.listener.packs.put(Pack(number, 1, "shop", DEVICE, b"[]", False, time.time()))
    turns: list[float] = []

    def slow() -> int:
        turns.append(time.monotonic())
        time.sleep(0.1)
        return 1

    monkeypatch.setattr(running.worker, "turn", slow)
    assert running._drain() == EXIT_OK
    assert 1 <= len(turns) < 50
    assert [number for number, *_ in running.worker.journal.sessions()] == [7]
    running.worker.journal.close()
