"""Journal, then acknowledge; start again in the middle of a settling; live values dropped, not queued."""

import json
import pkgutil
import sqlite3
from pathlib import Path
from typing import Any

import pytest

import service.mappings
from ingest.runtime.posting import Posted, post_waiting
from ingest.runtime.worker import SPEAK_EVERY_S, Worker
from ingest.wire.http import Mappings
from ingest.wire.mqtt import Pack
from ingest.wire.retry import Decision
from service.mappings.toml_text import documents
from tests.support.fake_service import hookup
from tests.support.feeding import START, Made, one_device
from tests.support.sparkplug_bytes import double, metric, payload, whole
from tests.support.workers import made_worker

DEVICE = "urn:dev:mac:0024befffe804ff1"


def bodies(worker: Worker) -> list[str]:
    return [body for (body,) in worker.journal.db.execute("SELECT body FROM outbox ORDER BY made_s, key")]


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
    commit = worker.journal.commit
    seen: list[int] = []
    monkeypatch.setattr(
        worker.journal,
        "commit",
        lambda *args: (seen.append(len(worker.listener.acknowledged)), commit(*args)),
    )
    worker.listener.deliver(packs[:10])
    worker.turn()
    assert seen == [0]
    assert worker.listener.acknowledged == list(range(1, 11))
    assert len(list(worker.journal.packs())) == 10


def test_a_worker_that_starts_again_has_an_edge_node_born_again(tmp_path: Path) -> None:
    shipped = Path(service.mappings.__file__).parent / "shipped" / "sparkplug.toml"
    (mapping,) = documents(shipped.read_text())
    told = Mappings([{"name": mapping["name"], "version": 1, "mapping": mapping}], None)
    at_ms = int(START * 1000)
    birth = metric(double(13, 136.6), name="Pressure/Gauge", alias=7, at_ms=at_ms, datatype=10)
    changed = metric(double(13, 137.0), alias=7, at_ms=at_ms + 9000)

    def deliver(worker: Worker, kind: str, message: bytes) -> float | None:
        """Deliver a message of the node; answers the gauge pressure that is heard last of its device [Pa]."""
        topic = f"spBv1.0/shop/{kind}/edge-3/gauge-3"
        worker.listener.packs.put(Pack(1, 1, "", "", message, False, START + 10.0, topic=topic))
        worker.turn()
        device = worker.pipeline.devices.get("gauge-3")
        return None if device is None else device.newest["gauge-pressure"].value

    first = made_worker(tmp_path, now_s=START + 10.0)
    first.new_mappings.put(told)
    deliver(first, "DBIRTH", payload(1, birth, at_ms=at_ms))
    assert deliver(first, "DDATA", payload(2, changed, at_ms=at_ms)) == pytest.approx(137.0 * 6894.757)
    assert first.listener.published == []
    first.journal.db.close()

    second = made_worker(tmp_path, now_s=START + 20.0)
    assert deliver(second, "DDATA", payload(3, changed, at_ms=at_ms)) is None
    asked = payload(None, metric(whole(14, 1), name="Node Control/Rebirth", datatype=11))
    assert second.listener.published == [("spBv1.0/shop/NCMD/edge-3", asked)]
    deliver(second, "DBIRTH", payload(1, birth, at_ms=at_ms))
    assert deliver(second, "DDATA", payload(2, changed, at_ms=at_ms)) == pytest.approx(137.0 * 6894.757)


@pytest.mark.parametrize("cut", [3, 20, 37, 60, 120, 179])
def test_a_killed_worker_carries_on_in_the_middle_of_a_settling(
    tmp_path: Path, packs: list[Made], undisturbed: list[str], cut: int
) -> None:
    """No replay point, no farewell: what was acknowledged is in the file, the rest comes again."""
    first = made_worker(tmp_path, [hookup(7, DEVICE)])
    first.listener.deliver(packs[:cut])
    while first.turn():
        pass
    first.journal.db.close()
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
    first.journal.db.execute("DELETE FROM inbox")
    first.journal.set_fact("seq", str(first.journal.seq))
    first.journal.db.close()
    second = made_worker(tmp_path)
    second.listener.deliver(packs[15:])
    while second.turn():
        pass
    assert bodies(second) == undisturbed


def test_a_full_disk_acknowledges_nothing_and_loses_nothing(
    tmp_path: Path, packs: list[Made], undisturbed: list[str], monkeypatch
) -> None:
    worker = made_worker(tmp_path, [hookup(7, DEVICE)])
    commit, failures = worker.journal.commit, [0]

    def failing(*args: object) -> None:
        if failures[0] < 3:
            failures[0] += 1
            assert worker.listener.acknowledged == []
            raise sqlite3.OperationalError("database or disk is full")
        commit(*args)

    monkeypatch.setattr(worker.journal, "commit", failing)
    monkeypatch.setattr("ingest.runtime.worker.DISK_WAIT_S", 0.0)
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
    from ingest.wire.hookup import Hookup

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
    assert list(worker.journal.packs()) == []


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
    assert worker.journal.outbox_counts() == {"set-aside": 1}


def test_a_parcel_comes_back_whatever_goes_wrong_in_posting(tmp_path: Path, packs: list[Made]) -> None:
    worker = made_worker(tmp_path, [hookup(7, DEVICE)])
    worker.listener.deliver(packs)
    while worker.turn():
        pass

    def broken(_parcel: object, _spread: float) -> Decision:
        raise OSError("the link broke in the middle of the answer")

    post_waiting(worker.outgoing, worker.posted, broken, lambda: False)
    worker.turn()
    worker.clock.now_s += 10.0
    worker.turn()
    assert worker.outgoing.get_nowait().attempts == 1


def test_a_worker_without_its_broker_says_for_how_long(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    worker = made_worker(tmp_path)
    steady = 1000.0
    monkeypatch.setattr("ingest.runtime.worker.time.monotonic", lambda: steady)

    def told() -> dict[str, Any]:
        worker.clock.now_s += SPEAK_EVERY_S
        body = worker.live()
        assert body is not None
        return body

    assert "broker_lost_s" not in told()
    worker.listener.connected = False
    assert told()["broker_lost_s"] == 0.0
    steady += 75.0
    assert told()["broker_lost_s"] == 75.0
    worker.listener.connected = True
    assert "broker_lost_s" not in told()
    worker.listener.connected = False
    assert told()["broker_lost_s"] == 0.0


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


@pytest.mark.parametrize("stamp_s", [-7e10, -1e12, -1e300, 946_684_800.0, 253_402_300_800.0, 1e300])
def test_no_stamp_ends_the_worker_now_or_when_it_starts_again(
    tmp_path: Path, packs: list[Made], undisturbed: list[str], stamp_s: float
) -> None:
    worker = made_worker(tmp_path, [hookup(7, DEVICE)])
    odd = json.dumps(
        [
            {"bn": f"{DEVICE}:", "bt": stamp_s, "n": "gauge-pressure", "u": "Pa", "v": 4e5},
            {"n": "wall-temperature", "u": "Cel", "v": 21.0},
            {"n": "ambient-pressure", "u": "Pa", "v": 1e5},
        ]
    ).encode()
    for some in (
        [Made(packs[0].stamp_s, DEVICE, odd)],
        packs[:20],
        [Made(packs[19].stamp_s, DEVICE, odd)] * 4,
    ):
        worker.listener.deliver(some)
        worker.turn()
        worker.live()
    assert len(worker.listener.acknowledged) == 25
    assert worker.pipeline.counts["faults"] == 0
    worker.listener.deliver(packs[20:60])
    while worker.turn():
        pass
    (device,) = worker.live()["devices"]
    assert device["last_seen"].startswith("2023-11-14")
    worker.journal.db.close()
    again = made_worker(tmp_path)
    again.listener.deliver(packs[60:])
    while again.turn():
        pass
    assert bodies(again) == undisturbed
    again.clock.now_s = packs[-1].stamp_s + 1.0
    assert again.live()["hookups"][0]["settling_state"] == "settled"


@pytest.mark.parametrize("where", ["read", "settle", "write", "live"])
def test_a_fault_of_our_own_that_a_message_meets_costs_that_message_alone(
    tmp_path: Path, packs: list[Made], monkeypatch: pytest.MonkeyPatch, where: str
) -> None:
    """Whatever code a message may break: it is counted, logged, acknowledged, and the next one is taken."""
    worker = made_worker(tmp_path, [hookup(7, DEVICE), hookup(8, "sound")])
    broken = {
        "read": ("ingest.sessions.pipeline.read", lambda _payload, device, _now_s: device == DEVICE),
        "settle": ("ingest.sessions.session.Session.take", lambda _self, device, *_: device == DEVICE),
        "write": ("ingest.sessions.pairing.EquilibriumPair.as_json", lambda pair: pair.hookup == 7),
        "live": ("ingest.sessions.live.snapshot", lambda session, *_, **__: session.hookup.id == 7),
    }
    name, is_odd = broken[where]
    module, attribute = name.rsplit(".", 1)
    holder = pkgutil.resolve_name(module)
    whole = getattr(holder, attribute)

    def breaking(*args: object, **named: object) -> object:
        if is_odd(*args, **named):
            raise RuntimeError("a fault of our own")
        return whole(*args, **named)

    monkeypatch.setattr(holder, attribute, breaking)
    both = sorted([*packs, *one_device("sound", seed=4)], key=lambda made: made.stamp_s)
    worker.listener.deliver(both)
    while worker.turn():
        pass
    told = worker.live()
    assert worker.pipeline.counts["faults"] >= 1
    assert len(worker.listener.acknowledged) == len(both)
    assert [json.loads(body)["hookup"] for body in bodies(worker) if '"hookup":8' in body] == [8]
    assert 8 in [state["hookup"] for state in told["hookups"]]
    assert worker.pipeline.faults == [] or where == "live"


def test_a_hookup_that_cannot_be_read_does_not_keep_the_worker_from_starting(tmp_path: Path) -> None:
    worker = made_worker(tmp_path, [hookup(7, DEVICE)])
    worker.journal.set_fact("hookups", json.dumps([{"id": "x"}, None, hookup(7, DEVICE)]))
    worker.journal.db.close()
    assert list(made_worker(tmp_path).pipeline.sessions) == [7]
