"""What a person has the worker send again, in the worker's file and without disturbing a running worker."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from pathlib import Path

from ingest.runtime.journal import bring_up_to_date


def set_aside_list(path: Path) -> list[tuple[str, str, int, str]]:
    """Return key, body, attempts and answer of every pair set aside, without disturbing a running worker."""
    with sqlite3.connect(path, timeout=5.0) as db:
        rows = db.execute(
            "SELECT key, body, attempts, coalesce(answer, '') FROM outbox WHERE state = 'set-aside' ORDER BY made_s"
        )
        return rows.fetchall()


def replay_set_aside(path: Path, keys: Sequence[str], now_s: float) -> int:
    """Put pairs that were set aside back into the outbox, all of them if no key is given; returns how many."""
    where, values = "state = 'set-aside'", [now_s]
    if keys:
        where += f" AND key IN ({','.join('?' * len(keys))})"
    with sqlite3.connect(path, timeout=5.0) as db:
        cursor = db.execute(
            f"UPDATE outbox SET state = 'waiting', refusals = 0, due_s = ? WHERE {where}",  # noqa: S608 - placeholders only
            [*values, *keys],
        )
        return cursor.rowcount


def replay_posted(path: Path, since_s: float, now_s: float) -> int:
    """Put pairs posted since a time [s] back into the outbox, whenever they were made; returns how many.

    For a service restored from a backup: it takes those that it has as repeats of their key. When a pair was posted is
    not known of one that an earlier version posted: it goes again too.
    """
    with sqlite3.connect(path, timeout=5.0) as db:
        bring_up_to_date(db)
        cursor = db.execute(
            "UPDATE outbox SET state = 'waiting', due_s = ?, posted_s = NULL"
            " WHERE state = 'posted' AND (posted_s IS NULL OR posted_s >= ?)",
            [now_s, since_s],
        )
        return cursor.rowcount
