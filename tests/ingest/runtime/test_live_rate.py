"""Live snapshots over real HTTP: one request in two seconds for any number of hookups, dropped while nobody listens."""

import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.ingest.runtime.test_end_to_end import Bench
from tests.support.broker import needs_mosquitto
from tests.support.fake_service import hookup
from tests.support.feeding import Made, one_device
from tests.support.proxy import Proxy
from tests.support.waiting import until

HOOKUPS = 300
EVERY_S = 2.0

pytestmark = [needs_mosquitto, pytest.mark.broker, pytest.mark.slow]


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    made = Bench(tmp_path)
    yield made
    made.stop()


def told(bench: Bench, packs: list[Made], for_s: float) -> int:
    """Have every device tell something new again and again for a while; returns how many packs that took."""
    end = time.monotonic() + for_s
    for rounds, pack in enumerate(packs, 1):
        for number in range(HOOKUPS):
            name = f"urn:dev:ops:32473-{number}"
            topic = f"heelmark/shop/readings/{name}"
            bench.publisher.publish(topic, pack.payload.replace(b"DEVICE", name.encode()), qos=1)
        time.sleep(0.5)
        if time.monotonic() > end:
            return rounds * HOOKUPS
    return len(packs) * HOOKUPS


def at_most_one_in(every_s: float, arrivals_s: list[float]) -> bool:
    """Whether requests keep to one in so many seconds; the first may come late by one, as on a busy machine it does."""
    return (len(arrivals_s) - 1) * every_s <= arrivals_s[-1] - arrivals_s[0] + every_s


def test_one_request_in_two_seconds_and_none_queued_while_the_service_is_away(bench: Bench) -> None:
    service, link = bench.service, Proxy(bench.service.port).start()
    service.hookups = [hookup(n + 1, f"urn:dev:ops:32473-{n}") for n in range(HOOKUPS)]
    bench.worker(HEELMARK_SERVICE_URL=f"http://127.0.0.1:{link.port}")
    until(lambda: bench.status().get("sessions") == HOOKUPS)
    packs = one_device("DEVICE", seed=4, duration_s=1200.0, start_s=time.time() - 1300.0)
    published = told(bench, packs[:18], 7.0)
    assert len(service.live) >= 2
    assert max(len(body["hookups"]) for _, body in service.live) == HOOKUPS

    link.refuse(True)
    time.sleep(0.5)
    before = len(service.live)
    published += told(bench, packs[18:34], 6.0)
    # On a busy machine the worker is behind the publisher: what it is to forget, it has to have taken first.
    until(lambda: bench.status()["counts"].get("packs", 0) >= published, 60)
    assert len(service.live) == before
    link.refuse(False)
    told(bench, packs[34:60], 5.0)
    until(lambda: len(service.live) >= before + 2)
    link.stop()
    for told_together in (service.live[:before], service.live[before:]):
        assert at_most_one_in(EVERY_S, [at for at, _ in told_together])
    until(lambda: bench.status()["counts"].get("live-dropped", 0) >= 2)
    newest_before = max(state["at"] for _, body in service.live[:before] for state in body["hookups"])
    # A hookup that is told again is told as it is now; what could not be told then is not sent later.
    for _, body in service.live[before:]:
        assert all(state["at"] > newest_before for state in body["hookups"])
