"""The worker's loop: take a batch of packs, read it, store all of it in one commit, then acknowledge."""

from __future__ import annotations

import json
import queue
import sqlite3
import time
from collections.abc import Callable, Iterable, Sequence
from typing import Any

import structlog

from ingest.runtime.batching import BATCH_WAIT_S, Batcher
from ingest.runtime.journal import Journal, Row, is_damaged
from ingest.runtime.posting import Posted
from ingest.runtime.settings import Settings
from ingest.sessions.live import batch
from ingest.sessions.pairing import EquilibriumPair, encoded, key
from ingest.sessions.pipeline import Pipeline
from ingest.sessions.snapshot import layout
from ingest.wire.hookup import Hookup, hookups_of
from ingest.wire.http import Mappings
from ingest.wire.mqtt import Listener, Pack
from ingest.wire.retry import Parcel
from ingest.wire.translator import Translator

log = structlog.get_logger(__name__)

CHECKPOINT_EVERY_S = 300.0
"""A session's replay point is moved about so often, [s]."""
HOUSEKEEPING_EVERY_S = 5.0
SPEAK_EVERY_S = 15.0
"""The service takes a worker that is silent for a minute for dead, [s]."""
DISK_WAIT_S = 1.0
OWNER_EVERY_S = 0.5
MOST_LIVE = 2000
MAPPINGS = "mappings"
"""Under this name the file keeps the mappings of the service, for a start while it is away."""


class Worker:
    """Owns the pipeline and the journal; everything else talks to it through queues.

    Parameters
    ----------
    settings : Settings
        The worker's settings.
    pipeline : Pipeline
        The pure part.
    journal : Journal
        Inbox, replay points and outbox.
    listener : Listener
        The broker's side.
    clock : callable
        Wall clock, seconds since 1970 UTC.
    """

    def __init__(
        self,
        settings: Settings,
        pipeline: Pipeline,
        journal: Journal,
        listener: Listener,
        clock: Callable[[], float] = time.time,
    ) -> None:
        self.settings, self.pipeline, self.journal, self.listener = settings, pipeline, journal, listener
        self.clock = clock
        translator = Translator(settings.mappings, settings.broker.places)
        self.batcher = Batcher(pipeline, journal, listener, clock, translator, settings.broker.root)
        self.new_hookups: queue.SimpleQueue[tuple[list[Hookup], str]] = queue.SimpleQueue()
        self.new_mappings: queue.SimpleQueue[Mappings] = queue.SimpleQueue()
        self.outgoing: queue.SimpleQueue[Parcel] = queue.SimpleQueue()
        self.posted: queue.SimpleQueue[Posted] = queue.SimpleQueue()
        self.stored: Callable[[list[Pack]], None] = _ignore
        """Told of every batch that is in the file now; set by the worker's owner."""
        self.in_hand: set[str] = set()
        self.points: dict[int, int] = {}
        self.disk_error: str | None = None
        self.unsent_pairs: list[tuple[str, str]] = []
        self._housekept_s = self._looked_s = self._spoke_s = 0.0
        self._broker_lost_at: float | None = None
        self._stale: set[int] = set()
        self._owner_checked = 0.0
        self._checkpoint_turn: list[int] = []
        self._forced: set[int] = set()

    def restore(self) -> None:
        """Rebuild the sessions as they were when the worker last stopped, from replay points and inbox."""
        if kept := self.journal.fact(MAPPINGS):
            self._read_by(Mappings(json.loads(kept), None))
        known = self.journal.fact("hookups")
        hookups, _ = hookups_of(json.loads(known)) if known else ([], [])
        active = {hookup.id: hookup for hookup in hookups}
        for number, seq, written_under, state in self.journal.sessions():
            if number in active and layout(active[number]) == written_under:
                self.pipeline.sessions.restore(active[number], state)
                self.points[number] = seq
        restored = len(self.pipeline.sessions)
        fresh = self.pipeline.attach(hookups)
        self.points |= dict.fromkeys(fresh, 0)
        self._replay()
        log.info("sessions.restored", sessions=restored, begun_anew=len(fresh))

    def _replay(self) -> None:
        if not self.pipeline.sessions:
            return
        start = min(self.points.values(), default=self.journal.seq)
        pairs: list[EquilibriumPair] = []
        replayed = 0
        for row in self.journal.packs(start):
            replayed += 1
            pairs += self.pipeline.refeed(*row[2:], row.arrival_s, self._lacking(row.seq))
        self.journal.commit([], self._parcels(pairs), (), self.clock())
        log.info("inbox.replayed", packs=replayed, pairs=len(pairs))

    def _lacking(self, seq: int) -> Callable[[int], bool]:
        """Return whether a hookup's replay point is before an inbox row."""
        return lambda number: self.points.get(number, 0) < seq

    def turn(self) -> int:
        """Do one round; returns how many packs it took. Raises TakenOver, never an error of the disk."""
        self._take_mappings()
        self._take_hookups()
        packs = self.batcher.gather()
        rows, pairs = self.batcher.process(packs)
        parcels = self._parcels(pairs)
        sessions = self._due_checkpoints(bool(packs))
        if rows or parcels or sessions or self.batcher.unread:
            self._commit(rows, parcels, sessions)
        self.listener.acknowledge(packs)
        self.stored(packs)
        self._take_posted()
        self._hand_out()
        self._check_owner()
        self._housekeeping()
        self._log_faults()
        return len(packs)

    def _log_faults(self) -> None:
        for fault in self.pipeline.faults:
            log.error("message.failed", fault=fault)
        self.pipeline.faults.clear()

    def _check_owner(self) -> None:
        now = time.monotonic()
        if now - self._owner_checked >= OWNER_EVERY_S:
            self._owner_checked = now
            self.journal.check_owner()

    def _commit(
        self,
        rows: list[Row],
        parcels: list[tuple[str, str]],
        sessions: list[tuple[int, int, str, bytes]],
        understood: Sequence[int] = (),
    ) -> None:
        """Commit, waiting for a disk that is full or read only: nothing is acknowledged before it is stored."""
        while True:
            try:
                self.journal.commit(rows, parcels, sessions, self.clock(), self.batcher.unread, understood)
            except sqlite3.Error as error:
                if is_damaged(error):
                    raise
                if self.disk_error is None:
                    log.error("inbox.not_written", error=str(error))
                self.disk_error = str(error)
                self.pipeline.counts["disk-errors"] += 1
                time.sleep(DISK_WAIT_S)
                if self.stopping():
                    raise
                continue
            if self.disk_error is not None:
                log.info("inbox.written_again")
            self.disk_error = None
            self.batcher.unread.clear()
            for hookup_id, seq, _, _ in sessions:
                self.points[hookup_id] = seq
            return

    def _parcels(self, pairs: Iterable[EquilibriumPair]) -> list[tuple[str, str]]:
        """Return key and text of each pair; one that cannot be written costs itself alone."""
        parcels = []
        for pair in pairs:
            try:
                text = encoded(pair.as_json())
            except Exception:
                self.pipeline.note_fault(f"pair {pair}")
            else:
                parcels.append((key(text), text))
        return parcels

    def stopping(self) -> bool:
        """Whether the worker has been asked to stop; set by its owner."""
        return False

    def _due_checkpoints(self, busy: bool) -> list[tuple[int, int, str, bytes]]:
        """Return the sessions whose replay point is moved in this turn: a few each time, all in turn."""
        if not busy and not self._forced:
            return []
        if not self._checkpoint_turn:
            self._checkpoint_turn = list(self.pipeline.sessions)
        each = max(1, int(len(self.pipeline.sessions) * BATCH_WAIT_S / CHECKPOINT_EVERY_S) + 1)
        chosen = {self._checkpoint_turn.pop() for _ in range(min(each, len(self._checkpoint_turn)))}
        chosen |= self._forced
        self._forced = set()
        return [self._point(number) for number in chosen if number in self.pipeline.sessions]

    def _point(self, number: int) -> tuple[int, int, str, bytes]:
        """Return the replay point of a hookup as it is now."""
        sessions = self.pipeline.sessions
        return number, self.journal.seq, layout(sessions.hookups[number]), sessions.state(number)

    def checkpoint_all(self) -> None:
        """Move every session's replay point to now, as the worker does before it stops."""
        self._commit([], [], [self._point(number) for number in self.pipeline.sessions])

    def _take_mappings(self) -> None:
        """Read by the mappings as the service has them now, also what could not be read before."""
        try:
            kept = self.new_mappings.get_nowait()
        except queue.Empty:
            return
        self._read_by(kept)
        self._tolerating(lambda: self.journal.set_fact(MAPPINGS, json.dumps(kept.items)))
        rows, pairs, understood = self.batcher.read_again()
        if understood:
            self._commit(rows, self._parcels(pairs), [], understood)
        log.info("mappings.taken", mappings=len(kept.items), read_again=len(understood))

    def _read_by(self, kept: Mappings) -> None:
        """Read by these mappings, and by those of files that have other names."""
        root, now_s = self.settings.broker.root, self.clock()
        found, faults = kept.parsed(root)
        for fault in faults:
            log.error("mappings.not_read", fault=fault)
            self.pipeline.misunderstood.note("", fault.partition(":")[0], "mapping", fault, b"", now_s)
        named = {mapping.name for mapping in found}
        others = [mapping for mapping in self.settings.mappings if mapping.name not in named]
        births = self.batcher.translator.births
        self.batcher.translator = Translator([*found, *others], self.settings.broker.places, births)
        self.listener.listen_to(self.batcher.translator.filters())

    def _take_hookups(self) -> None:
        try:
            hookups, text = self.new_hookups.get_nowait()
        except queue.Empty:
            return
        before = set(self.pipeline.sessions)
        fresh = self.pipeline.attach(hookups)
        self._tolerating(lambda: self._remember_hookups(text, before - set(self.pipeline.sessions)))
        if fresh:
            self._catch_up(fresh)

    def _remember_hookups(self, text: str, ended: set[int]) -> None:
        self.journal.set_fact("hookups", text)
        self.journal.drop_sessions(ended)
        for hookup_id in ended:
            self.points.pop(hookup_id, None)

    def _catch_up(self, fresh: list[int]) -> None:
        """Feed new sessions what has come in since their hookup began."""
        pairs: list[EquilibriumPair] = []
        ids, hookups = set(fresh), self.pipeline.sessions.hookups
        start_s = min(hookups[number].from_s for number in fresh)
        for row in self.journal.packs():
            if row.arrival_s < start_s:
                continue
            pairs += self.pipeline.refeed(*row[2:], row.arrival_s, ids.__contains__)
        self.points |= dict.fromkeys(fresh, self.journal.seq)
        self._forced |= ids
        self._commit([], self._parcels(pairs), [self._point(number) for number in fresh])
        log.info("hookups.begun", hookups=sorted(ids)[:20], pairs=len(pairs))

    def _hand_out(self) -> None:
        if len(self.in_hand) >= 20:
            return
        for parcel in self.journal.due(self.clock(), 50):
            if parcel.key not in self.in_hand:
                self.in_hand.add(parcel.key)
                self.outgoing.put(parcel)

    def _take_posted(self) -> None:
        while True:
            try:
                done = self.posted.get_nowait()
            except queue.Empty:
                return
            self._tolerating(lambda done=done: self._apply(done))  # type: ignore[misc]
            self.in_hand.discard(done.parcel.key)

    def _apply(self, done: Posted) -> None:
        decision, parcel_key = done.decision, done.parcel.key
        self.pipeline.counts[f"posts:{decision.what}"] += 1
        if decision.what == "stored":
            self.journal.posted(parcel_key, self.clock())
        elif decision.what == "again":
            due_s = self.clock() + decision.wait_s
            self.journal.put_off(parcel_key, due_s, decision.answer, refused=decision.refused)
        else:
            log.error("pair.set_aside", key=parcel_key, answer=decision.answer)
            self.journal.set_aside(parcel_key, decision.answer)

    def keep_fact(self, name: str, value: str) -> None:
        """Have the file remember a fact, or not while it cannot be written."""
        self._tolerating(lambda: self.journal.set_fact(name, value))

    def _tolerating(self, write: Callable[[], None]) -> None:
        """Do a write that may be done again later; a full disk only puts it off."""
        try:
            write()
        except sqlite3.Error as error:
            if is_damaged(error):
                raise
            self.disk_error = str(error)
            self.pipeline.counts["disk-errors"] += 1

    def _housekeeping(self) -> None:
        now_s = self.clock()
        if now_s - self._housekept_s < HOUSEKEEPING_EVERY_S:
            return
        self._housekept_s = now_s
        passed = min(self.points.values(), default=self.journal.seq)
        self._tolerating(lambda: _ignore(self.journal.forget(passed, now_s - self.settings.keep_s)))

    def live(self) -> dict[str, Any] | None:
        """Return the next live snapshot, or None if nothing has changed; an empty one says that it is alive."""
        pipeline = self.pipeline
        self._look_for_silence()
        lost_s = self._broker_lost_s()
        something = pipeline.moved or pipeline.heard or pipeline.misunderstood
        if not something and self.clock() - self._spoke_s < SPEAK_EVERY_S:
            return None
        self._spoke_s = self.clock()
        moved = [pipeline.moved.pop() for _ in range(min(MOST_LIVE, len(pipeline.moved)))]
        heard = [pipeline.heard.pop() for _ in range(min(MOST_LIVE, len(pipeline.heard)))]
        place = self.settings.broker.places[0] if len(self.settings.broker.places) == 1 else None
        return batch(place, pipeline, moved, heard, self.clock(), broker_lost_s=lost_s)

    def _broker_lost_s(self) -> float | None:
        """Return for how long there has been no broker, by a steady clock; None while there is one."""
        now = time.monotonic()
        if self.listener.connected:
            self._broker_lost_at = None
            return None
        if self._broker_lost_at is None:
            self._broker_lost_at = now
        return now - self._broker_lost_at

    def _look_for_silence(self) -> None:
        """Have the service told of a sensor that fell silent, which no reading would do."""
        now_s = self.clock()
        if now_s - self._looked_s < HOUSEKEEPING_EVERY_S:
            return
        self._looked_s = now_s
        for topic in self.listener.unheard:
            detail = (
                f"the broker does not let the worker read {topic}, which a mapping is for; give it that right"
            )
            self.pipeline.misunderstood.note("", topic, "not-granted", detail, b"", now_s, topic=topic)
        sessions = self.pipeline.sessions
        stale = {number for number in sessions if sessions.is_silent(number, now_s)}
        self.pipeline.moved |= stale - self._stale
        for number in (stale & self._stale) - self.pipeline.moved:
            sessions.hibernate(number)
        self._stale = stale

    def status(self) -> dict[str, Any]:
        """Return what a person or a probe wants to know of the worker."""
        return {
            "at": self.clock(),
            "connected": self.listener.connected,
            "sessions": len(self.pipeline.sessions),
            "devices": len(self.pipeline.devices),
            "disk_error": self.disk_error,
            "inbox_seq": self.journal.seq,
            "outbox": self.journal.outbox_counts(),
            "oldest_waiting_s": self.journal.oldest_waiting_s(),
            "counts": dict(self.pipeline.counts),
        }


def _ignore(_value: object) -> None:
    return None
