"""A service that is away for a day, and one that refuses for ever: nothing is lost, and a person can see and act."""

import random
from datetime import UTC, datetime
from pathlib import Path

import pytest
from click.testing import CliRunner

from ingest.__main__ import main
from ingest.runtime.posting import Posted
from ingest.runtime.worker import Worker
from ingest.wire.http import Service
from ingest.wire.retry import LONGEST_WAIT_S, SET_ASIDE_AFTER, decide
from tests.support.fake_service import FakeService, hookup
from tests.support.feeding import one_device
from tests.support.workers import made_worker

DEVICES = [f"urn:dev:mac:0024befffe804f{n:02x}" for n in range(3)]
DAY_S = 86400.0


def settled(folder: Path) -> Worker:
    """A worker with a pair of each of three hookups to post."""
    worker = made_worker(folder, [hookup(n + 1, name) for n, name in enumerate(DEVICES)])
    for number, name in enumerate(DEVICES):
        worker.listener.deliver(one_device(name, seed=number + 4))
    while worker.turn():
        pass
    assert worker.journal.outbox_counts() == {"waiting": 3}
    return worker


def post_all(worker: Worker, post) -> int:
    """Post what the worker hands out; how many posts that were."""
    posts = 0
    while not worker.outgoing.empty():
        parcel = worker.outgoing.get_nowait()
        worker.posted.put(Posted(parcel, post(parcel)))
        posts += 1
    worker.turn()
    return posts


def test_a_service_that_is_down_for_a_day_is_asked_with_patience_and_then_gets_everything(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("ingest.runtime.batching.BATCH_WAIT_S", 0.0)
    worker, rng, posts = settled(tmp_path), random.Random(3), 0
    begun_s = worker.clock.now_s
    while worker.clock.now_s < begun_s + DAY_S:
        posts += post_all(worker, lambda parcel: decide(None, parcel.attempts, "away", rng.random()))
        worker.clock.now_s += 20.0
    assert worker.journal.outbox_counts() == {"waiting": 3}
    assert 3 * DAY_S / LONGEST_WAIT_S <= posts <= 3 * (2.0 * DAY_S / LONGEST_WAIT_S + 12)
    service = FakeService().start()
    try:
        client = Service(service.url, "t")
        end_s = worker.clock.now_s + LONGEST_WAIT_S
        while worker.clock.now_s <= end_s:
            post_all(worker, lambda parcel: client.post_pair(parcel, rng.random()))
            worker.clock.now_s += 20.0
    finally:
        service.stop()
    assert worker.journal.outbox_counts() == {"posted": 3}
    assert sorted(body["hookup"] for body in service.pairs.values()) == [1, 2, 3]


def test_what_is_refused_for_ever_is_set_aside_seen_and_sent_again_by_a_person(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    worker, service = settled(tmp_path), FakeService().start()
    monkeypatch.setenv("HEELMARK_WORKER_TOKEN", "t")
    monkeypatch.setenv("HEELMARK_WORKER_DATA", str(tmp_path))
    (tmp_path / "worker.sqlite").symlink_to(tmp_path / "w.sqlite")
    service.always = 422
    client = Service(service.url, "t")
    try:
        for _ in range(SET_ASIDE_AFTER):
            post_all(worker, lambda parcel: client.post_pair(parcel, 0.5))
            worker.clock.now_s += LONGEST_WAIT_S
            worker.turn()
        assert worker.journal.outbox_counts() == {"set-aside": 3}
        assert worker.status()["outbox"] == {"set-aside": 3}
        listed = CliRunner().invoke(main, ["set-aside", "list"]).output
        assert "3 set aside" in listed
        assert listed.count("422") >= 3
        assert "3 will be sent again" in CliRunner().invoke(main, ["set-aside", "replay"]).output
        service.always = None
        worker.turn()
        post_all(worker, lambda parcel: client.post_pair(parcel, 0.5))
    finally:
        service.stop()
    assert worker.journal.outbox_counts() == {"posted": 3}
    assert len(service.pairs) == 3


def test_a_service_restored_from_a_backup_gets_again_what_was_posted_since(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    worker, service = settled(tmp_path), FakeService().start()
    monkeypatch.setenv("HEELMARK_WORKER_TOKEN", "t")
    monkeypatch.setenv("HEELMARK_WORKER_DATA", str(tmp_path))
    (tmp_path / "worker.sqlite").symlink_to(tmp_path / "w.sqlite")
    client = Service(service.url, "t")
    made_s = worker.clock.now_s
    try:
        post_all(worker, lambda parcel: client.post_pair(parcel, 0.5))
        kept = dict(service.pairs)
        service.pairs.pop(next(iter(kept)))  # the backup was made before this one came
        for since_s, count in ((made_s + 60.0, 0), (made_s - 60.0, 3)):
            since = datetime.fromtimestamp(since_s, UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
            told = CliRunner().invoke(main, ["posted", "replay", "--since", since]).output
            assert f"{count} will be sent again" in told
        worker.turn()
        post_all(worker, lambda parcel: client.post_pair(parcel, 0.5))
    finally:
        service.stop()
    assert service.pairs == kept
    assert worker.journal.outbox_counts() == {"posted": 3}
