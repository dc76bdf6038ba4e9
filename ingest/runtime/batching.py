"""Packs from the broker in batches: read, numbered for the inbox, and fed to the pipeline."""

from __future__ import annotations

import queue
import time
from collections.abc import Callable, Sequence
from itertools import groupby
from operator import attrgetter

from ingest.runtime.host_clock import HostClock
from ingest.runtime.journal import LARGEST_UNREAD, Journal, Row, Unread
from ingest.sessions.misunderstood import UNKNOWN_NAME
from ingest.sessions.pairing import EquilibriumPair
from ingest.sessions.pipeline import Pipeline
from ingest.wire.mapping import READINGS
from ingest.wire.mqtt import Listener, Pack
from ingest.wire.reading import Reading, Refused, told
from ingest.wire.senml import read
from ingest.wire.sparkplug import NO_BIRTH, BirthRequests
from ingest.wire.translator import Translated, Translator, as_pack

NO_MAPPING = "topic"
"""Why a message is refused where no mapping is for its topic."""
MOST_IN_BATCH = 500
BATCH_WAIT_S = 0.05
_device = attrgetter("device")
GATHER_S, MOST_GATHERS = 0.005, 10
"""A backlog that grows is waited for so long, [s], at most so often (measured with the rate benchmark)."""
LARGE_PACK = 100
"""After a larger pack all is fed that was read, which bounds what is in memory, [readings]."""


class Batcher:
    """Takes packs off the broker's side and gives them to the pipeline; nothing is stored or acknowledged here.

    Parameters
    ----------
    pipeline : Pipeline
        The pure part.
    journal : Journal
        Gives packs their numbers.
    listener : Listener
        The broker's side.
    clock : callable
        Wall clock, seconds since 1970 UTC.
    translator : Translator or None
        Reads foreign messages.
    root : str
        First level of the worker's own topics.
    """

    def __init__(
        self,
        pipeline: Pipeline,
        journal: Journal,
        listener: Listener,
        clock: Callable[[], float],
        translator: Translator | None = None,
        root: str = "heelmark",
    ) -> None:
        self.pipeline, self.journal, self.listener, self.clock = pipeline, journal, listener, clock
        self.translator, self.root = translator or Translator(), root
        pipeline.misunderstood.births = self.translator.births
        self.birth_requests = BirthRequests()
        self.unread: list[Unread] = []
        """What could not be read since it was last stored, to be stored with the next rows."""

    def gather(self) -> list[Pack]:
        """Return the next batch in order of arrival; empty if nothing comes for a while."""
        packs: list[Pack] = []
        source = self.listener.packs
        try:
            packs.append(source.get(timeout=BATCH_WAIT_S))
            self._wait_while_it_grows()
            while len(packs) < MOST_IN_BATCH:
                packs.append(source.get_nowait())
        except queue.Empty:
            pass
        return packs

    def _wait_while_it_grows(self) -> None:
        """Let a backlog gather: two threads that work by turns get in each other's way less."""
        source, had = self.listener.packs, 0
        for _ in range(MOST_GATHERS):
            has = source.qsize()
            if has <= had or has >= MOST_IN_BATCH:
                return
            had = has
            time.sleep(GATHER_S)

    def process(self, packs: list[Pack]) -> tuple[list[Row], list[EquilibriumPair]]:
        """Read all packs, then feed them: one by one each step would find the processor's caches full of the other.

        Returns
        -------
        tuple
            Rows for the inbox, and the pairs that have settled.
        """
        rows: list[Row] = []
        pairs: list[EquilibriumPair] = []
        unfed: list[tuple[Row, list[Reading]]] = []
        for pack in packs:
            read_of = self._translated(pack) if pack.topic else self._read(pack)
            rows += [row for row, _ in read_of]
            unfed += read_of
            if any(len(readings) > LARGE_PACK for _, readings in read_of):
                pairs += self._feed(unfed)
        return rows, pairs + self._feed(unfed)

    def _read(self, pack: Pack) -> list[tuple[Row, list[Reading]]]:
        if pack.retained:
            self.pipeline.counts["retained"] += 1
            return []
        arrival_s, mapped = self._arrival_s(pack), None
        try:
            if self.translator.reads_own(self.topic_of(pack)):
                (readings, refusals, unknown), mapped = self.pipeline.read_either(
                    self.translator, self.topic_of(pack), pack.device, pack.payload, arrival_s
                )
            else:
                readings, refusals, unknown = self.pipeline.read(pack.device, pack.payload, arrival_s)
        except Refused as refused:
            self._refuse(pack, arrival_s, refused.reason, str(refused))
            return []
        if refusals:
            self._refuse(pack, arrival_s, refusals[0].reason, told(refusals), partly=True)
        if unknown:
            self._tell_unknown(pack, arrival_s, unknown, partly=bool(readings))
        rows = [(self._row(arrival_s, pack.place, pack.device, pack.payload), readings)]
        if mapped is not None and not readings:
            rows = []
        return rows + (self._rows(mapped, arrival_s) if mapped is not None else [])

    def topic_of(self, pack: Pack) -> str:
        """Return where a pack was published."""
        return pack.topic or f"{self.root}/{pack.place}/{READINGS}/{pack.device}"

    def _translated(self, pack: Pack) -> list[tuple[Row, list[Reading]]]:
        """Read a foreign message; the inbox keeps what it says as a pack a device.

        So a replay gives the same numbers whatever the mappings are by then, and workers of every version can read it.
        """
        if pack.retained:
            self.pipeline.counts["retained"] += 1
            return []
        arrival_s = self._arrival_s(pack)
        try:
            found = self.pipeline.read_foreign(
                self.translator, pack.topic, pack.payload, arrival_s, pack.mapping
            )
        except Refused as refused:
            if refused.reason == NO_BIRTH:
                self._ask_for_birth(pack.topic)
            self._refuse(pack, arrival_s, refused.reason, str(refused))
            return []
        if refusals := found.taken.refusals:
            there = pack._replace(place=found.place)
            self._refuse(there, arrival_s, refusals[0].reason, told(refusals), partly=True)
        return self._rows(found, arrival_s)

    def _ask_for_birth(self, topic: str) -> None:
        if command := self.birth_requests.due(topic, time.monotonic()):
            self.listener.publish(*command)

    def _rows(self, found: Translated, arrival_s: float) -> list[tuple[Row, list[Reading]]]:
        by_device = groupby(sorted(found.taken.readings, key=_device), key=_device)
        each = [(device, list(readings)) for device, readings in by_device]
        return [
            (self._row(arrival_s, found.place, device, as_pack(device, readings)), readings)
            for device, readings in each
        ]

    def _refuse(
        self, pack: Pack, arrival_s: float, reason: str, detail: str, *, partly: bool = False
    ) -> None:
        """Tell the gateway, on its place's `refused` topic, and the owner, through the service; keep the message."""
        if reason != NO_MAPPING:
            # A message that was heard because all topics are listened to may be none of ours.
            self.listener.publish_refusal(pack, reason, detail)
        topic = self.topic_of(pack)
        source = pack.device or topic
        self.pipeline.misunderstood.note(
            pack.place, source, reason, detail, pack.payload, arrival_s, partly=partly, topic=topic
        )
        self._keep(pack, topic, arrival_s, reason)

    def _tell_unknown(self, pack: Pack, arrival_s: float, names: Sequence[str], *, partly: bool) -> None:
        topic = self.topic_of(pack)
        self.pipeline.misunderstood.note_unknown(
            pack.place, pack.device, names, pack.payload, arrival_s, partly=partly, topic=topic
        )
        if not partly:
            # Many a good message has a value beside that is nobody's concern, such as its signal strength.
            self._keep(pack, topic, arrival_s, UNKNOWN_NAME)

    def _keep(self, pack: Pack, topic: str, arrival_s: float, reason: str) -> None:
        if len(pack.payload) <= LARGEST_UNREAD:
            label = self.translator.label(topic)
            self.unread.append(Unread(arrival_s, topic, pack.payload, reason, label, pack.mapping))

    def read_again(self) -> tuple[list[Row], list[EquilibriumPair], list[int]]:
        """Read what could not be read, where the mappings of its topic have changed since.

        Returns
        -------
        tuple
            Rows for the inbox, the pairs that have settled with them, and the numbers of what is read now.
        """
        unfed: list[tuple[Row, list[Reading]]] = []
        understood: list[int] = []
        for number, one in self.journal.unread():
            if self.translator.label(one.topic) == one.translator:
                continue
            try:
                found = self.pipeline.read_foreign(
                    self.translator, one.topic, one.payload, one.arrival_s, one.mapping, is_new=False
                )
            except Refused:
                continue
            if not found.taken.readings:
                continue
            self.pipeline.counts["read-again"] += 1
            understood.append(number)
            unfed += self._rows(found, one.arrival_s)
        rows = [row for row, _ in unfed]
        return rows, self._feed(unfed), understood

    def _row(self, arrival_s: float, place: str, device: str, payload: bytes) -> Row:
        self.journal.seq += 1
        return Row(self.journal.seq, arrival_s, place, device, payload)

    def _feed(self, unfed: list[tuple[Row, list[Reading]]]) -> list[EquilibriumPair]:
        pairs: list[EquilibriumPair] = []
        for row, readings in unfed:
            pairs += self.pipeline.feed(row.place, row.device, readings, row.arrival_s)
        unfed.clear()
        return pairs

    def _arrival_s(self, pack: Pack) -> float:
        """Return when a pack arrived, judged by what it says where the machine's clock is in doubt."""
        clock, own_s = self.clock, pack.arrival_s
        if not isinstance(clock, HostClock) or not clock.in_doubt:
            return own_s
        latest_s = max(own_s, own_s + clock.step_s)
        try:
            if not pack.topic:
                readings = read(pack.payload, pack.device, latest_s).readings
            elif self.translator.is_stamped(pack.topic):
                readings = self.translator.read(pack.topic, pack.payload, latest_s).taken.readings
            else:
                return own_s
        except Exception:
            # Refused, or a fault of ours: whoever reads it in earnest tells that.
            return own_s
        return clock.arrival_s(readings[-1].stamp_s, own_s) if readings else own_s
