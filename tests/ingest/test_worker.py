"""Store, then acknowledge; start again in the middle of a settling; live values dropped, not queued."""

import json
import queue
import sqlite3
from pathlib import Path

import pytest

from ingest.criteria import SettlingSettings
from ingest.mqtt import BrokerSettings, Pack
from ingest.pipeline import Pipeline
from ingest.retry import Decision
from ingest.settings import Settings
from ingest.store import Store
from ingest.worker import Posted, Worker, post_waiting
from tests.support.fake_service import hookup
from tests.support.feeding import START, Made, one_device

DEVICE = "urn:dev:mac:0024befffe804ff1"


class FakeListener:
    """The broker's side without a broker."""

    def __init__(self) -> None:
        self.packs: queue.SimpleQueue[Pack] = queue.SimpleQueue()
        self.acknowledged: list[int] = []
        self.refusals: list[tuple[str, str]] = []
        self.connected = True

    def acknowledge(self, packs: list[Pack]) -> None:
        self.acknowledged += [pack.mid for pack in packs]

    def publish_refusal(self, pack: Pack, reason: str, detail: str) -> None:
        self.refusals.append((pack.device, reason))

    def deliver(self, made: list[Made], *, retained: bool = False) -> None:
        for number, pack in enumerate(made):
            self.packs.put(
                Pack(number + 1, 1, "shop", pack.device, pack.payload, retained, pack.stamp_s + 0.3)
            )


class Clock:
    def __init__(self, now_s: float) -> None:
        self.now_s = now_s

    def __call__(self) -> float:
        return self.now_s


def made_worker(folder: Path, hookups: list[dict] | None = None) -> Worker:
    settings = Settings(
        "http://127.0.0.1:1",
        "t",
        BrokerSettings("127.0.0.1", 1, None, None, "heelmark", (), "x"),
        folder,
        SettlingSettings(),
    )
    worker = Worker(
        settings, Pipeline(settings.settling), Store(folder / "w.sqlite"), FakeListener(), Clock(START + 5000)
    )
    worker.restore()
    if hookups is not None:
        from ingest.hookup import Hookup

        worker.new_hookups.put(([Hookup.from_json(item) for item in hookups], json.dumps(hookups)))
        worker.turn()
    return worker


def bodies(worker: Worker) -> list[str]:
    return [body for (body,) in worker.store.db.execute("SELECT body FROM outbox ORDER BY made_s, key")]


@pytest.fixture(scope="module")
def packs() -> list[Made]:
    return one_device(DEVICE, seed=4)


@pytest.fixture
def undisturbed(tmp_path: Path, packs: list[Made]) -> list[str]:
    folder = tmp_path / "undisturbed"
    folder.mkdir()
    worker = made_worker(folder, [hookup(7, DEVICE)])
    worker.listener.deliver(packs)
    while worker.turn():
        pass
    assert len(bodies(worker)) == 1
    return bodies(worker)


def test_acknowledged_only_after_the_commit(tmp_path: Path, packs: list[Made], monkeypatch) -> None:
    worker = made_worker(tmp_path, [hookup(7, DEVICE)])
    commit = worker.store.commit
    seen: list[int] = []
    monkeypatch.setattr(
        worker.store, "commit", lambda *args: (seen.append(len(worker.listener.acknowledged)), commit(*args))
    )
    worker.listener.deliver(packs[:10])
    worker.turn()
    assert seen == [0]
    assert worker.listener.acknowledged == list(range(1, 11))
    assert len(list(worker.store.packs())) == 10


@pytest.mark.parametrize("cut", [3, 20, 37, 60, 120, 179])
def test_a_killed_worker_carries_on_in_the_middle_of_a_settling(
    tmp_path: Path, packs: list[Made], undisturbed: list[str], cut: int
) -> None:
    """No replay point, no farewell: what was acknowledged is in the file, the rest comes again."""
    first = made_worker(tmp_path, [hookup(7, DEVICE)])
    first.listener.deliver(packs[:cut])
    while first.turn():
        pass
    first.store.db.close()
    second = made_worker(tmp_path)
    second.listener.deliver(packs[max(0, cut - 5) :])
    while second.turn():
        pass
    assert bodies(second) == undisturbed


def test_a_replay_point_stands_for_the_packs_before_it(
    tmp_path: Path, packs: list[Made], undisturbed: list[str]
) -> None:
    first = made_worker(tmp_path, [hookup(7, DEVICE)])
    first.listener.deliver(packs[:15])
    while first.turn():
        pass
    first.checkpoint_all()
    first.store.db.execute("DELETE FROM inbox")
    first.store.set_fact("seq", str(first.store.seq))
    first.store.db.close()
    second = made_worker(tmp_path)
    second.listener.deliver(packs[15:])
    while second.turn():
        pass
    assert bodies(second) == undisturbed


def test_a_full_disk_acknowledges_nothing_and_loses_nothing(
    tmp_path: Path, packs: list[Made], undisturbed: list[str], monkeypatch
) -> None:
    worker = made_worker(tmp_path, [hookup(7, DEVICE)])
    commit, failures = worker.store.commit, [0]

    def failing(*args: object) -> None:
        if failures[0] < 3:
            failures[0] += 1
            assert worker.listener.acknowledged == []
            raise sqlite3.OperationalError("database or disk is full")
        commit(*args)

    monkeypatch.setattr(worker.store, "commit", failing)
    monkeypatch.setattr("ingest.worker.DISK_WAIT_S", 0.0)
    worker.listener.deliver(packs)
    while worker.turn():
        pass
    assert worker.pipeline.counts["disk-errors"] == 3
    assert len(worker.listener.acknowledged) == len(packs)
    assert bodies(worker) == undisturbed


def test_a_hookup_that_is_known_late_gets_what_came_before(
    tmp_path: Path, packs: list[Made], undisturbed: list[str]
) -> None:
    worker = made_worker(tmp_path, [])
    worker.listener.deliver(packs)
    while worker.turn():
        pass
    assert bodies(worker) == []
    from ingest.hookup import Hookup

    item = hookup(7, DEVICE)
    worker.new_hookups.put(([Hookup.from_json(item)], json.dumps([item])))
    worker.turn()
    assert bodies(worker) == undisturbed


def test_retained_packs_are_acknowledged_and_never_start_a_window(tmp_path: Path, packs: list[Made]) -> None:
    worker = made_worker(tmp_path, [hookup(7, DEVICE)])
    worker.listener.deliver(packs[:5], retained=True)
    worker.turn()
    assert worker.pipeline.counts["retained"] == 5
    assert worker.pipeline.sessions[7].clamp.accepted == 0
    assert len(worker.listener.acknowledged) == 5


def test_a_refused_pack_is_published_acknowledged_and_not_kept(tmp_path: Path) -> None:
    worker = made_worker(tmp_path, [])
    worker.listener.deliver([Made(START, DEVICE, b"nonsense")])
    worker.turn()
    assert worker.listener.refusals == [(DEVICE, "not-senml")]
    assert worker.listener.acknowledged == [1]
    assert list(worker.store.packs()) == []


def test_a_pair_goes_out_once_and_is_put_off_or_set_aside(tmp_path: Path, packs: list[Made]) -> None:
    worker = made_worker(tmp_path, [hookup(7, DEVICE)])
    worker.listener.deliver(packs)
    while worker.turn():
        pass
    parcel = worker.outgoing.get_nowait()
    worker.turn()
    assert worker.outgoing.empty()
    worker.posted.put(Posted(parcel, Decision("again", 10.0, "503")))
    worker.turn()
    assert worker.outgoing.empty()
    worker.clock.now_s += 11.0
    worker.turn()
    assert worker.outgoing.get_nowait().attempts == 1
    worker.posted.put(Posted(parcel, Decision("set-aside", 0.0, "422")))
    worker.turn()
    assert worker.store.outbox_counts() == {"set-aside": 1}


def test_a_parcel_comes_back_whatever_goes_wrong_in_posting(tmp_path: Path, packs: list[Made]) -> None:
    worker = made_worker(tmp_path, [hookup(7, DEVICE)])
    worker.listener.deliver(packs)
    while worker.turn():
        pass

    def broken(_parcel: object, _spread: float) -> Decision:
        raise OSError("the link broke in the middle of the answer")

    post_waiting(worker, broken, lambda: False)
    worker.turn()
    worker.clock.now_s += 10.0
    worker.turn()
    assert worker.outgoing.get_nowait().attempts == 1


def test_live_values_tell_state_and_silence(tmp_path: Path, packs: list[Made]) -> None:
    worker = made_worker(tmp_path, [hookup(7, DEVICE)])
    worker.clock.now_s = packs[-1].stamp_s + 1
    worker.listener.deliver(packs)
    while worker.turn():
        pass
    body = worker.live()
    (state,) = body["hookups"]
    assert state["hookup"] == 7
    assert state["settling_state"] == "settled"
    assert state["good_to_k"] < 0.25
    assert body["devices"][0]["device"] == DEVICE
    assert worker.live() is None
    worker.clock.now_s += 200.0
    assert worker.live()["hookups"][0]["settling_state"] == "stale"
