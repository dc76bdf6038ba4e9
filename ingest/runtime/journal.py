"""The worker's SQLite file: inbox, sessions' replay points and outbox, which move in one commit."""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Iterable, Iterator, Sequence
from contextlib import closing
from itertools import chain
from pathlib import Path
from typing import NamedTuple

from ingest.wire.retry import LONGEST_WAIT_S, Parcel

SCHEMA = """
CREATE TABLE IF NOT EXISTS inbox (
    seq INTEGER PRIMARY KEY, arrival_s REAL NOT NULL, place TEXT NOT NULL, device TEXT NOT NULL, payload BLOB NOT NULL
);
CREATE TABLE IF NOT EXISTS session (
    hookup INTEGER PRIMARY KEY, seq INTEGER NOT NULL, layout TEXT NOT NULL, state BLOB NOT NULL
);
CREATE TABLE IF NOT EXISTS outbox (
    key TEXT PRIMARY KEY, body TEXT NOT NULL, made_s REAL NOT NULL, due_s REAL NOT NULL,
    attempts INTEGER NOT NULL DEFAULT 0, state TEXT NOT NULL DEFAULT 'waiting', answer TEXT,
    refusals INTEGER NOT NULL DEFAULT 0, posted_s REAL
);
CREATE INDEX IF NOT EXISTS outbox_due ON outbox (state, due_s);
CREATE TABLE IF NOT EXISTS unread (
    id INTEGER PRIMARY KEY, arrival_s REAL NOT NULL, topic TEXT NOT NULL, payload BLOB NOT NULL, reason TEXT NOT NULL,
    translator TEXT NOT NULL, mapping TEXT NOT NULL DEFAULT ''
);
CREATE TABLE IF NOT EXISTS fact (name TEXT PRIMARY KEY, value TEXT NOT NULL);
"""
SALVAGED = {
    "outbox": ("key, body, made_s, due_s, attempts, state, answer", "key"),
    "fact": ("name, value", "name"),
    "session": ("hookup, seq, layout, state", "hookup"),
    "inbox": ("seq, arrival_s, place, device, payload", "seq"),
    "unread": ("id, arrival_s, topic, payload, reason, translator, mapping", "id"),
}
"""What is brought over from a damaged file: columns, and the key by which it is read."""
ROWS_AT_ONCE = 100
"""Five values a row: SQLite takes 999 in one statement before version 3.32 and more since (from memory)."""
MOST_OF_TOPIC, MOST_UNREAD = 500, 5000
"""So many messages that could not be read are kept of one topic, and of all."""
KEEP_UNREAD_S = 86_400.0
"""They are kept so much longer than what was read: somebody has to see them and to write a mapping, [s]."""
LARGEST_UNREAD = 16_384
"""A larger message is not kept to be read again, [bytes]."""
KEEP_POSTED_S = 7 * 86400.0
"""A posted pair is remembered for so long, so that a replay does not send it again, [s]."""
ADDED = {"refusals": "INTEGER NOT NULL DEFAULT 0", "posted_s": "REAL"}
"""Columns of the outbox that files of earlier versions do not have."""


def bring_up_to_date(db: sqlite3.Connection) -> None:
    """Add what a file of an earlier version does not have."""
    there = {row[1] for row in db.execute("PRAGMA table_info(outbox)")}
    for name in ADDED.keys() - there:
        db.execute(f"ALTER TABLE outbox ADD COLUMN {name} {ADDED[name]}")


class TakenOver(Exception):
    """Another worker has opened this file since; whoever was first must stop."""


class Broken(Exception):
    """The file is not a database any more."""


def is_damaged(error: sqlite3.Error) -> bool:
    """Whether an error says that the file itself is damaged, which waiting does not mend."""
    return getattr(error, "sqlite_errorcode", 0) & 0xFF in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB)


class Row(NamedTuple):
    """One pack of the inbox."""

    seq: int
    arrival_s: float
    place: str
    device: str
    payload: bytes


class Unread(NamedTuple):
    """A message that could not be read, kept as it came until a mapping reads it.

    Parameters
    ----------
    arrival_s : float
        When it came, [s].
    topic : str
        Where it was published.
    payload : bytes
        All of it.
    reason : str
        The word its refusal is counted by.
    translator : str
        What it was tried with: names and versions of mappings; empty for none.
    mapping : str
        The one mapping that its sender named, or empty.
    """

    arrival_s: float
    topic: str
    payload: bytes
    reason: str
    translator: str
    mapping: str = ""


class Journal:
    """One open file, for one thread.

    Parameters
    ----------
    path : Path
        The file; a new one is made where there is none.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        try:
            self.db = sqlite3.connect(path, isolation_level=None, timeout=5.0, check_same_thread=False)
            if self.db.execute("PRAGMA quick_check(1)").fetchone()[0] != "ok":
                raise Broken(f"{path} does not pass its check")
            self.db.execute("PRAGMA journal_mode=WAL")
            self.db.execute("PRAGMA synchronous=FULL")
            self.db.executescript(SCHEMA)
            bring_up_to_date(self.db)
        except sqlite3.DatabaseError as error:
            if isinstance(error, sqlite3.OperationalError):
                raise
            raise Broken(f"{path}: {error}") from error
        # Workers of every version share the file, so the stored name stays.
        self.fencing_token = int(self.fact("epoch") or 0) + 1
        self.seq = 0
        self.renumber()
        self.set_fact("epoch", str(self.fencing_token))

    def renumber(self) -> None:
        """Have the next pack's number come after every one that was ever given, by rows and by replay points."""
        known = self.db.execute(
            "SELECT max((SELECT coalesce(max(seq), 0) FROM inbox), (SELECT coalesce(max(seq), 0) FROM session))"
        ).fetchone()[0]
        self.seq = max(known, int(self.fact("seq") or 0))

    def close(self) -> None:
        """Close the file."""
        self.db.close()

    def fact(self, name: str) -> str | None:
        """Return a remembered fact, or None."""
        row = self.db.execute("SELECT value FROM fact WHERE name = ?", (name,)).fetchone()
        return None if row is None else str(row[0])

    def set_fact(self, name: str, value: str) -> None:
        """Remember a fact."""
        self.db.execute("INSERT OR REPLACE INTO fact VALUES (?, ?)", (name, value))

    def commit(
        self,
        packs: Sequence[Row],
        parcels: Iterable[tuple[str, str]],
        sessions: Iterable[tuple[int, int, str, bytes]] = (),
        now_s: float = 0.0,
        unread: Sequence[Unread] = (),
        understood: Iterable[int] = (),
    ) -> None:
        """Store packs, new pairs and sessions' replay points in one transaction, or none of them.

        Parameters
        ----------
        packs : sequence of Row
            What came in.
        parcels : iterable of (key, body)
            Pairs that go out; a key that is known is left as it is.
        sessions : iterable of (hookup, seq, layout, state)
            Sessions as they are after the inbox row `seq`.
        now_s : float
            Wall clock, [s].
        unread : sequence of Unread
            What could not be read; the oldest go when there are too many.
        understood : iterable of int
            Numbers of what could not be read before and is among the packs now.

        Raises
        ------
        TakenOver
            Another worker has opened the file.
        sqlite3.Error
            The disk is full or read only; nothing was stored.
        """
        db = self.db
        db.execute("BEGIN IMMEDIATE")
        try:
            self.check_owner()
            self._insert(packs)
            db.executemany(
                "INSERT OR IGNORE INTO outbox (key, body, made_s, due_s) VALUES (?, ?, ?, ?)",
                [(key, body, now_s, now_s) for key, body in parcels],
            )
            db.executemany("INSERT OR REPLACE INTO session VALUES (?, ?, ?, ?)", sessions)
            db.executemany("DELETE FROM unread WHERE id = ?", [(number,) for number in understood])
            self._keep_unread(unread)
            db.execute("COMMIT")
        except BaseException:
            if db.in_transaction:
                db.execute("ROLLBACK")
            raise

    def _insert(self, packs: Sequence[Row]) -> None:
        """Add rows to the inbox, many a statement: each statement lets the other threads in, which costs more."""
        for start in range(0, len(packs), ROWS_AT_ONCE):
            some = packs[start : start + ROWS_AT_ONCE]
            marks = ", ".join(["(?, ?, ?, ?, ?)"] * len(some))
            self.db.execute(
                f"INSERT OR IGNORE INTO inbox VALUES {marks}",  # noqa: S608 - placeholders only
                list(chain.from_iterable(some)),
            )

    def _keep_unread(self, unread: Sequence[Unread]) -> None:
        if not unread:
            return
        into = "INSERT INTO unread (arrival_s, topic, payload, reason, translator, mapping) VALUES (?, ?, ?, ?, ?, ?)"
        self.db.executemany(into, unread)
        # No source may push the others out, and all together may not fill the disk.
        self.db.execute(
            "DELETE FROM unread WHERE id IN (SELECT id FROM (SELECT id, row_number() OVER (PARTITION BY topic"
            " ORDER BY id DESC) AS place FROM unread) WHERE place > ?)",
            (MOST_OF_TOPIC,),
        )
        self.db.execute(
            "DELETE FROM unread WHERE id <= (SELECT id FROM unread ORDER BY id DESC LIMIT 1 OFFSET ?)",
            (MOST_UNREAD,),
        )

    def unread(self) -> list[tuple[int, Unread]]:
        """Return what could not be read and is still kept, with its number, oldest first."""
        rows = self.db.execute(
            "SELECT id, arrival_s, topic, payload, reason, translator, mapping FROM unread ORDER BY id"
        )
        return [(number, Unread(*row)) for number, *row in rows]

    def check_owner(self) -> None:
        """Raise TakenOver if another worker has opened the file since."""
        if int(self.fact("epoch") or 0) != self.fencing_token:
            raise TakenOver(f"{self.path} is used by another worker")

    def sessions(self) -> list[tuple[int, int, str, bytes]]:
        """Return all stored sessions: hookup, seq, layout, state."""
        return self.db.execute("SELECT hookup, seq, layout, state FROM session").fetchall()

    def drop_sessions(self, hookups: Iterable[int]) -> None:
        """Forget the sessions of hookups that have ended."""
        self.db.executemany("DELETE FROM session WHERE hookup = ?", [(h,) for h in hookups])

    def packs(self, after_seq: int = 0) -> Iterator[Row]:
        """Yield the inbox's packs after a row, in order."""
        cursor = self.db.execute("SELECT * FROM inbox WHERE seq > ? ORDER BY seq", (after_seq,))
        yield from (Row(*row) for row in cursor)

    def forget(self, up_to_seq: int, before_s: float) -> int:
        """Delete packs that every session has passed and that came before `before_s` [s]; returns how many."""
        last = self.db.execute("SELECT max(seq) FROM inbox WHERE arrival_s < ?", (before_s,)).fetchone()[0]
        if last is None:
            return 0
        self.set_fact("seq", str(self.seq))
        # By time too: what was read again long after it came has a late number and an early time.
        cursor = self.db.execute(
            "DELETE FROM inbox WHERE seq <= ? AND arrival_s < ?", (min(int(last), up_to_seq), before_s)
        )
        self.db.execute("DELETE FROM unread WHERE arrival_s < ?", (before_s - KEEP_UNREAD_S,))
        self.db.execute(
            "DELETE FROM outbox WHERE state = 'posted' AND coalesce(posted_s, made_s) < ?",
            (before_s - KEEP_POSTED_S,),
        )
        return cursor.rowcount

    def due(self, now_s: float, limit: int = 100) -> list[Parcel]:
        """Return waiting pairs whose time has come, oldest first.

        A pair that is due later than any wait lasts was put off by a clock that has been set back since.
        """
        rows = self.db.execute(
            "SELECT key, body, attempts, refusals FROM outbox"
            " WHERE state = 'waiting' AND (due_s <= ? OR due_s > ?) ORDER BY made_s LIMIT ?",
            (now_s, now_s + 2.0 * LONGEST_WAIT_S, limit),
        )
        return [Parcel(*row) for row in rows]

    def posted(self, key: str, now_s: float) -> None:
        """Mark a pair as stored by the service at `now_s` [s]."""
        self.db.execute(
            "UPDATE outbox SET state = 'posted', answer = NULL, posted_s = ? WHERE key = ?", (now_s, key)
        )

    def put_off(self, key: str, due_s: float, answer: str, *, refused: bool = False) -> None:
        """Try a pair again at `due_s` [s]; `refused` tells that the service was there and would not take it."""
        self.db.execute(
            "UPDATE outbox SET attempts = attempts + 1, refusals = refusals + ?, due_s = ?, answer = ? WHERE key = ?",
            (refused, due_s, answer[:500], key),
        )

    def set_aside(self, key: str, answer: str) -> None:
        """Keep a pair that the service will not take, for a person to look at."""
        self.db.execute(
            "UPDATE outbox SET state = 'set-aside', attempts = attempts + 1, answer = ? WHERE key = ?",
            (answer[:500], key),
        )

    def outbox_counts(self) -> dict[str, int]:
        """Return how many pairs are in each state."""
        return dict(self.db.execute("SELECT state, count(*) FROM outbox GROUP BY state").fetchall())

    def oldest_waiting_s(self) -> float | None:
        """Return when the oldest pair was made that is still to be posted, [s], or None."""
        row = self.db.execute("SELECT min(made_s) FROM outbox WHERE state = 'waiting'").fetchone()
        return None if row[0] is None else float(row[0])


def open_journal(path: Path, now_s: float | None = None) -> tuple[Journal, Path | None]:
    """Open the file; one that is corrupt is put aside under another name and a new one is begun.

    Parameters
    ----------
    path : Path
        The file.
    now_s : float or None
        Wall clock for the name of the file put aside, [s].

    Returns
    -------
    tuple
        The journal, and where the corrupt file was put or None.
    """
    try:
        return Journal(path), None
    except Broken:
        stamp = time.time() if now_s is None else now_s
        aside = path.with_name(f"{path.name}.corrupt-{stamp:.0f}")
        path.rename(aside)
        # What was committed last is in the log beside the file.
        for suffix in ("-wal", "-shm"):
            beside = path.with_name(path.name + suffix)
            if beside.exists():
                beside.rename(aside.with_name(aside.name + suffix))
        journal = Journal(path)
        _salvage(aside, journal)
        return journal, aside


def _salvage(aside: Path, journal: Journal) -> None:
    """Bring over what can still be read of everything, from either end of each table."""
    with closing(sqlite3.connect(aside)) as old:
        journal.db.execute("BEGIN IMMEDIATE")
        for table, (columns, key) in SALVAGED.items():
            marks = ", ".join("?" * (1 + columns.count(",")))
            into = f"INSERT OR IGNORE INTO {table} ({columns}) VALUES ({marks})"  # noqa: S608 - our own names
            for direction in ("ASC", "DESC"):
                query = f"SELECT {columns} FROM {table} ORDER BY {key} {direction}"  # noqa: S608
                try:
                    for row in old.execute(query):
                        journal.db.execute(into, row)
                except sqlite3.Error:
                    continue
                break
        journal.db.execute("COMMIT")
    journal.renumber()
