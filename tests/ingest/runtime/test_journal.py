"""The worker's file: one commit for everything, and every way that a disk lets one down."""

import shutil
import sqlite3
from pathlib import Path

import pytest

from ingest.runtime.journal import (
    KEEP_POSTED_S,
    KEEP_UNREAD_S,
    ROWS_AT_ONCE,
    Journal,
    Row,
    TakenOver,
    Unread,
    open_journal,
)
from ingest.runtime.replay import replay_posted, replay_set_aside, set_aside_list
from ingest.wire.retry import LONGEST_WAIT_S


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "worker.sqlite"


def rows(*numbers: int) -> list[Row]:
    return [Row(n, 1000.0 + n, "shop", "d", b"x" * 100) for n in numbers]


def test_packs_pairs_and_replay_points_move_together_or_not_at_all(path: Path) -> None:
    journal = Journal(path)
    journal.commit(rows(1, 2), [("k", "{}")], [(7, 2, "layout", b"state")], 5.0)
    journal.db.execute("CREATE TRIGGER no BEFORE INSERT ON session BEGIN SELECT RAISE(ABORT, 'no'); END")
    with pytest.raises(sqlite3.Error):
        journal.commit(rows(3), [("k2", "{}")], [(8, 3, "layout", b"state")], 6.0)
    assert [row.seq for row in journal.packs()] == [1, 2]
    assert [parcel.key for parcel in journal.due(10.0)] == ["k"]
    assert journal.sessions() == [(7, 2, "layout", b"state")]
    journal.close()


def test_a_repeated_key_is_stored_once_and_a_posted_one_is_not_sent_again(path: Path) -> None:
    journal = Journal(path)
    journal.commit([], [("k", "{}"), ("k", "{}")], (), 5.0)
    journal.posted("k", 6.0)
    journal.commit([], [("k", "{}")], (), 6.0)
    assert journal.due(100.0) == []
    assert journal.outbox_counts() == {"posted": 1}
    journal.close()


@pytest.mark.parametrize("count", [1, ROWS_AT_ONCE, 2 * ROWS_AT_ONCE + 1])
def test_a_batch_of_any_size_is_kept_whole_and_a_pack_that_is_known_is_left_as_it_is(
    path: Path, count: int
) -> None:
    journal = Journal(path)
    journal.commit(rows(count), [])
    journal.commit([row._replace(payload=b"y") for row in rows(*range(1, count + 1))], [])
    assert [(row.seq, row.payload[:1]) for row in journal.packs()] == [
        *((number, b"y") for number in range(1, count)),
        (count, b"x"),
    ]
    journal.close()


def test_what_every_session_has_passed_is_forgotten_and_numbers_go_on(path: Path) -> None:
    journal = Journal(path)
    journal.commit(rows(1, 2, 3), [])
    journal.seq = 3
    assert journal.forget(up_to_seq=2, before_s=5000.0) == 2
    assert [row.seq for row in journal.packs()] == [3]
    assert journal.forget(up_to_seq=3, before_s=5000.0) == 1
    journal.close()
    again = Journal(path)
    assert again.seq == 3
    again.close()


def test_a_second_worker_stops_the_first(path: Path) -> None:
    first, second = Journal(path), Journal(path)
    with pytest.raises(TakenOver):
        first.commit(rows(1), [])
    second.commit(rows(1), [])
    first.close()
    second.close()


def test_a_full_disk_stores_nothing_and_the_same_commit_works_later(path: Path) -> None:
    journal = Journal(path)
    pages = journal.db.execute("PRAGMA page_count").fetchone()[0]
    journal.db.execute(f"PRAGMA max_page_count = {pages + 1}")
    many = [Row(n, 1.0, "shop", "d", b"x" * 2000) for n in range(1, 200)]
    with pytest.raises(sqlite3.OperationalError, match="full"):
        journal.commit(many, [("k", "{}")])
    assert list(journal.packs()) == []
    assert journal.outbox_counts() == {}
    journal.db.execute("PRAGMA max_page_count = 100000")
    journal.commit(many, [("k", "{}")])
    assert len(list(journal.packs())) == 199
    journal.close()


def test_a_read_only_disk_is_an_error_and_not_a_loss(path: Path) -> None:
    journal = Journal(path)
    journal.commit(rows(1), [])
    journal.db.execute("PRAGMA query_only = ON")
    with pytest.raises(sqlite3.OperationalError, match="readonly"):
        journal.commit(rows(2), [])
    journal.db.execute("PRAGMA query_only = OFF")
    journal.commit(rows(2), [])
    assert [row.seq for row in journal.packs()] == [1, 2]
    journal.close()


@pytest.mark.parametrize("spoil", [b"this is not a database" * 300, b"SQLite format 3\x00" + b"\xff" * 5000])
def test_a_corrupt_file_is_put_aside_and_a_new_one_begun(path: Path, spoil: bytes) -> None:
    path.write_bytes(spoil)
    journal, aside = open_journal(path, 123.0)
    assert aside is not None
    assert aside.read_bytes() == spoil
    journal.commit(rows(1), [])
    journal.close()


def test_the_outbox_of_a_damaged_file_is_saved_where_it_can_be_read(path: Path) -> None:
    journal = Journal(path)
    journal.commit(rows(*range(1, 400)), [("k", '{"a":1}')], (), 5.0)
    journal.db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    root = journal.db.execute("SELECT rootpage FROM sqlite_master WHERE name = 'inbox'").fetchone()[0]
    page = journal.db.execute("PRAGMA page_size").fetchone()[0]
    journal.close()
    with path.open("r+b") as file:
        file.seek((root - 1) * page)
        file.write(b"\xee" * page)
    saved, aside = open_journal(path, 123.0)
    assert aside is not None
    assert [parcel.key for parcel in saved.due(10.0)] == ["k"]
    saved.close()


def test_pairs_set_aside_are_listed_and_sent_again_when_asked(path: Path) -> None:
    journal = Journal(path)
    journal.commit([], [("k1", "{}"), ("k2", "{}")], (), 5.0)
    journal.set_aside("k1", "422 no")
    journal.set_aside("k2", "422 no")
    assert journal.due(100.0) == []
    assert [(key, attempts, answer) for key, _, attempts, answer in set_aside_list(path)] == [
        ("k1", 1, "422 no"),
        ("k2", 1, "422 no"),
    ]
    assert replay_set_aside(path, ["k2"], 50.0) == 1
    assert [parcel.key for parcel in journal.due(100.0)] == ["k2"]
    assert replay_set_aside(path, [], 50.0) == 1
    journal.close()


def test_refusals_are_counted_apart_from_tries_and_begin_anew_when_a_person_sends_it_again(
    path: Path,
) -> None:
    journal = Journal(path)
    journal.commit([], [("k", "{}")], (), 5.0)
    journal.put_off("k", 6.0, "no link")
    journal.put_off("k", 7.0, "422 no", refused=True)
    assert journal.due(10.0) == [("k", "{}", 2, 1)]
    journal.set_aside("k", "422 no")
    replay_set_aside(path, [], 8.0)
    assert journal.due(10.0) == [("k", "{}", 3, 0)]
    journal.close()


def test_a_pair_put_off_by_a_clock_that_was_ahead_does_not_wait_for_that_time_to_come(path: Path) -> None:
    journal = Journal(path)
    journal.commit([], [("k", "{}")], (), 5.0)
    journal.put_off("k", 5.0 + 86400.0, "503")
    assert [parcel.key for parcel in journal.due(6.0)] == ["k"]
    journal.put_off("k", 5.0 + LONGEST_WAIT_S, "503")
    assert journal.due(6.0) == []
    journal.close()


def test_a_file_of_an_earlier_version_is_brought_up_to_date(path: Path) -> None:
    old = sqlite3.connect(path)
    old.execute(
        "CREATE TABLE outbox (key TEXT PRIMARY KEY, body TEXT NOT NULL, made_s REAL NOT NULL, due_s REAL NOT NULL,"
        " attempts INTEGER NOT NULL DEFAULT 0, state TEXT NOT NULL DEFAULT 'waiting', answer TEXT)"
    )
    old.execute("INSERT INTO outbox (key, body, made_s, due_s) VALUES ('k', '{}', 1.0, 1.0)")
    old.commit()
    old.close()
    journal = Journal(path)
    assert journal.due(10.0) == [("k", "{}", 0, 0)]
    journal.close()


def test_packs_replay_points_and_what_was_only_in_the_log_are_saved_from_a_damaged_file(
    path: Path, tmp_path: Path
) -> None:
    journal = Journal(path)
    journal.commit(rows(*range(1, 400)), [], [(7, 390, "layout", b"state")], 5.0)
    journal.db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    journal.commit(rows(400), [("late", "{}")], (), 6.0)
    damaged = tmp_path / "damaged"
    damaged.mkdir()
    for suffix in ("", "-wal"):
        shutil.copy(f"{path}{suffix}", damaged / f"worker.sqlite{suffix}")
    journal.close()
    with (damaged / "worker.sqlite").open("r+b") as file:
        text = file.read()
        middle = text.index(b"x" * 100, len(text) // 2)
        file.seek(middle // 4096 * 4096)
        file.write(b"\xee" * 4096)
    saved, aside = open_journal(damaged / "worker.sqlite", 123.0)
    assert aside is not None
    assert [parcel.key for parcel in saved.due(10.0)] == ["late"]
    assert saved.sessions() == [(7, 390, "layout", b"state")]
    kept = [row.seq for row in saved.packs()]
    assert kept[0] == 1
    assert kept[-1] == 400
    assert 300 < len(kept) < 400
    assert saved.seq == 400
    saved.close()


def test_numbers_go_on_after_a_replay_point_whose_packs_are_gone(path: Path) -> None:
    journal = Journal(path)
    journal.commit([], [], [(7, 390, "layout", b"state")], 5.0)
    journal.close()
    again = Journal(path)
    assert again.seq == 390
    again.close()


def test_what_was_read_again_late_takes_nothing_newer_with_it(tmp_path: Path) -> None:
    journal = Journal(tmp_path / "w.sqlite")
    rows = [
        Row(1, 100.0, "shop", "a", b"[]"),
        Row(2, 900.0, "shop", "b", b"[]"),
        Row(3, 100.0, "shop", "c", b"[]"),
    ]
    journal.commit(rows, [], (), 1000.0)
    journal.seq = 3
    assert journal.forget(3, 500.0) == 2
    assert [row.device for row in journal.packs()] == ["b"]


def test_what_could_not_be_read_goes_after_its_day(tmp_path: Path) -> None:
    journal = Journal(tmp_path / "w.sqlite")
    old, young = (Unread(at_s, "t", b"1", "unit", "") for at_s in (100.0, 5000.0))
    journal.commit([Row(1, 50.0, "shop", "a", b"[]")], [], (), 0.0, [old, young])
    journal.forget(1, 1000.0 + KEEP_UNREAD_S)
    assert [one for _, one in journal.unread()] == [young]


def test_what_was_posted_since_a_backup_goes_again_whenever_it_was_made(path: Path) -> None:
    """A pair that waited for a service that was away is posted after the backup, and not in it."""
    journal = Journal(path)
    for key, made_s, posted_s in (("before", 10.0, 50.0), ("waited", 20.0, 110.0), ("after", 120.0, 121.0)):
        journal.commit([], [(key, "{}")], (), made_s)
        journal.posted(key, posted_s)
    assert replay_posted(path, 100.0, 200.0) == 2
    assert [parcel.key for parcel in journal.due(200.0)] == ["waited", "after"]
    journal.close()


def test_a_pair_of_an_earlier_version_goes_again_since_nobody_knows_when_it_was_posted(path: Path) -> None:
    journal = Journal(path)
    journal.commit([], [("old", "{}")], (), 10.0)
    journal.posted("old", 11.0)
    journal.db.execute("ALTER TABLE outbox DROP COLUMN posted_s")
    journal.close()
    assert replay_posted(path, 100.0, 200.0) == 1


def test_a_posted_pair_is_remembered_for_a_week_from_its_posting(path: Path) -> None:
    journal = Journal(path)
    journal.commit(rows(1), [("waited", "{}"), ("long ago", "{}")], (), 10.0)
    journal.posted("waited", 100.0)
    journal.posted("long ago", 11.0)
    journal.forget(0, KEEP_POSTED_S + 50.0)
    assert [key for (key,) in journal.db.execute("SELECT key FROM outbox")] == ["waited"]
    journal.close()
