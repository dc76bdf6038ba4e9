"""Readings in, equilibrium pairs out: every hookup of one worker, in event time and without I/O."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from typing import NamedTuple

from ingest.hookup import Hookup
from ingest.pairing import EquilibriumPair
from ingest.senml import Reading, Refused, read
from ingest.session import Session
from ingest.settling import SettlingSettings

MOST_DEVICES = 500_000
"""Names come from outside; more than this are not remembered."""
SAME_TIME_S = 120.0
DISAGREE_K, DISAGREE_SHARE = 1.0, 0.03
"""Two hookups of one cylinder may differ by this much, for their calibration and place, [K] and [-]."""


class Last(NamedTuple):
    """The newest value of one quantity of a device."""

    value: float
    stamp_s: float


@dataclass(slots=True)
class Device:
    """A device as it was heard: its place and its newest values."""

    place: str
    seen_s: float = 0.0
    newest: dict[str, Last] = field(default_factory=dict)


class Pipeline:
    """All sessions of a worker.

    Parameters
    ----------
    settings : SettlingSettings
        What counts as settled.
    """

    def __init__(self, settings: SettlingSettings) -> None:
        self.settings = settings
        self.sessions: dict[int, Session] = {}
        self.by_device: dict[str, list[Session]] = {}
        self.by_cylinder: dict[str, list[Session]] = {}
        self.devices: dict[str, Device] = {}
        self.counts: Counter[str] = Counter()
        self.heard: set[str] = set()
        self.moved: set[int] = set()

    def attach(self, hookups: Iterable[Hookup]) -> list[Session]:
        """Take the active hookups as they now are; sessions of others end. Returns the sessions that are new."""
        active = {hookup.id: hookup for hookup in hookups}
        for gone in self.sessions.keys() - active.keys():
            del self.sessions[gone]
        fresh = []
        for hookup in active.values():
            session = self.sessions.get(hookup.id)
            if session is not None and session.hookup.same_devices(hookup):
                session.hookup = hookup
                continue
            session = Session.of(hookup, self.settings)
            self.sessions[hookup.id] = session
            fresh.append(session)
        self._index()
        return fresh

    def restore(self, sessions: Iterable[Session]) -> None:
        """Put sessions back as they were before the worker stopped."""
        for session in sessions:
            self.sessions[session.hookup.id] = session
        self._index()

    def _index(self) -> None:
        self.by_device, self.by_cylinder = {}, {}
        for session in self.sessions.values():
            self.by_cylinder.setdefault(session.hookup.cylinder, []).append(session)
            for name in {session.hookup.pressure_device, session.hookup.temperature_device}:
                self.by_device.setdefault(name, []).append(session)

    def take(self, place: str, device: str, payload: bytes, arrival_s: float) -> list[EquilibriumPair]:
        """Take one pack as it arrived.

        Parameters
        ----------
        place, device : str
            What the topic names.
        payload : bytes
            The pack.
        arrival_s : float
            Time of arrival, seconds since 1970 UTC, [s].

        Returns
        -------
        list of EquilibriumPair
            Pairs that have settled with it.

        Raises
        ------
        Refused
            The whole pack is refused; it is counted and nothing else has changed.
        """
        try:
            readings = read(payload, device, arrival_s)
        except Refused as refused:
            self.counts[f"refused:{refused.reason}"] += 1
            raise
        pairs: list[EquilibriumPair] = []
        self.counts["packs"] += 1
        self.counts["readings"] += len(readings)
        for reading in readings:
            self._see(place, reading)
            name = reading.device if reading.device in self.by_device else device
            for session in self._sessions(place, name):
                pairs += self._feed(session, name, reading, arrival_s)
        self.counts["pairs"] += len(pairs)
        return pairs

    def refeed(
        self, session: Session, place: str, device: str, payload: bytes, arrival_s: float
    ) -> list[EquilibriumPair]:
        """Give one session a pack that came before it was known; packs that were refused then are skipped."""
        try:
            readings = read(payload, device, arrival_s)
        except Refused:
            return []
        pairs: list[EquilibriumPair] = []
        for reading in readings:
            name = reading.device if reading.device in self.by_device else device
            if session in self._sessions(place, name):
                pairs += self._feed(session, name, reading, arrival_s)
        return pairs

    def sessions_of(self, device: str, payload: bytes) -> list[Session]:
        """Return the sessions that a stored pack may belong to, by its topic and by the names in it."""
        found = list(self.by_device.get(device, ()))
        if b"urn:dev:" in payload:
            for name, sessions in self.by_device.items():
                if name != device and name.encode() in payload:
                    found += [session for session in sessions if session not in found]
        return found

    def disagreeing(self, session: Session) -> bool:
        """Whether another hookup on the same cylinder says something else at the same time."""
        others = self.by_cylinder.get(session.hookup.cylinder, ())
        mine = session.settling.provisional() if len(others) > 1 else None
        if mine is None:
            return False
        for other in others:
            theirs = other.settling.provisional() if other is not session else None
            if theirs is None or abs(theirs.stamp_s - mine.stamp_s) > SAME_TIME_S:
                continue
            spread = math.hypot(mine.uncertainty_k, theirs.uncertainty_k)
            if abs(mine.temp_k - theirs.temp_k) > DISAGREE_K + 3.0 * spread:
                return True
            if abs(mine.pressure_pa - theirs.pressure_pa) > DISAGREE_SHARE * mine.pressure_pa:
                return True
        return False

    def _see(self, place: str, reading: Reading) -> None:
        device = self.devices.get(reading.device)
        if device is None:
            if len(self.devices) >= MOST_DEVICES:
                self.counts["dropped:too-many-devices"] += 1
                return
            device = self.devices[reading.device] = Device(place)
        device.place = place
        device.seen_s = max(device.seen_s, reading.stamp_s)
        known = device.newest.get(reading.quantity)
        if known is None or reading.stamp_s >= known.stamp_s:
            device.newest[reading.quantity] = Last(reading.value, reading.stamp_s)
        self.heard.add(reading.device)

    def _sessions(self, place: str, name: str) -> list[Session]:
        """Return the sessions that a device belongs to; a name used in two places means the one here."""
        sessions = self.by_device.get(name)
        if not sessions:
            return []
        here = [session for session in sessions if session.hookup.place == place]
        return here or sessions

    def _feed(self, session: Session, name: str, reading: Reading, arrival_s: float) -> list[EquilibriumPair]:
        if reading.stamp_s < session.hookup.from_s:
            self.counts["dropped:before-hookup"] += 1
            return []
        reason = session.take(name, reading, arrival_s)
        self.moved.add(session.hookup.id)
        if reason is not None:
            self.counts[f"dropped:{reason}"] += 1
        pairs = []
        while session.advance():
            pair = session.new_pair()
            if pair is not None and self.disagreeing(session):
                pair = replace(pair, reasons=(*pair.reasons, "devices-disagree"))
            if pair is not None:
                pairs.append(pair)
        return pairs
