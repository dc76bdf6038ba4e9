"""All sessions of a worker: open while something happens, hibernating in two kilobytes at rest.

A reading that cannot complete a hibernating session's bin waits beside it, so that a settled hookup is opened once a
bin. What comes out is the same to the last bit as if it had never hibernated.
"""

from __future__ import annotations

import struct
from collections import Counter
from collections.abc import Iterator, Mapping

from ingest.estimator.device_clock import LAG_S
from ingest.estimator.settling_settings import SettlingSettings
from ingest.sessions.session import Session
from ingest.sessions.snapshot import opens_s, restore, serialize, silent_from_s
from ingest.wire.hookup import Hookup
from ingest.wire.reading import Reading

KEPT_OPEN = 4000
"""Up to so many sessions none hibernates for being at rest: 60 MB buy the time that it takes."""
REST_BIN_S = 30.0
"""Bins so wide mean that nothing has happened for a quarter of an hour, [s]."""
MOST_WAITING = 64
WAITING = ("wall-temperature", "gauge-pressure", "absolute-pressure", "ambient-temperature", "battery")
"""What nobody needs before the bin is full; a weight is told at once."""
_NUMBER = {quantity: number for number, quantity in enumerate(WAITING)}
_READING = struct.Struct("<?Bddd")
"""A reading that waits: whether it is the temperature device's, its quantity, stamp, value and arrival."""


class SessionPool(Mapping[int, Session]):
    """Sessions by hookup; asking for one opens it.

    Parameters
    ----------
    settings : SettlingSettings
        What counts as settled.
    counts : Counter
        Readings left out are counted here by reason.
    """

    def __init__(self, settings: SettlingSettings, counts: Counter[str]) -> None:
        self.settings, self.counts = settings, counts
        self.hookups: dict[int, Hookup] = {}
        self._open: dict[int, Session] = {}
        self._hibernating: dict[int, bytes] = {}
        self._waiting: dict[int, bytearray] = {}

    def __len__(self) -> int:
        return len(self.hookups)

    def __iter__(self) -> Iterator[int]:
        return iter(self.hookups)

    def __contains__(self, number: object) -> bool:
        return number in self.hookups

    def __getitem__(self, number: int) -> Session:
        session = self._open.get(number)
        return session if session is not None else self._opened(number)

    @property
    def open(self) -> int:
        """How many are open."""
        return len(self._open)

    def begin(self, hookup: Hookup) -> None:
        """Begin a session, or start one over."""
        self.end(hookup.id)
        self.hookups[hookup.id] = hookup
        self._open[hookup.id] = Session.of(hookup, self.settings)

    def restore(self, hookup: Hookup, state: bytes) -> None:
        """Put a hibernating session back, as it was when the worker last stopped."""
        self.end(hookup.id)
        self.hookups[hookup.id] = hookup
        self._hibernating[hookup.id] = state

    def know(self, hookup: Hookup) -> None:
        """Take what is new of a hookup whose session goes on."""
        self.hookups[hookup.id] = hookup
        if hookup.id in self._open:
            self._open[hookup.id].hookup = hookup

    def end(self, number: int) -> None:
        """Forget a session."""
        self.hookups.pop(number, None)
        self._open.pop(number, None)
        self._hibernating.pop(number, None)
        self._waiting.pop(number, None)

    def keeps(self, number: int, device: str, reading: Reading, arrival_s: float) -> bool:
        """Whether a hibernating session could let a reading wait, and now does.

        It can if by its stamp and an honest clock the reading leaves the bin open.
        """
        state, quantity = self._hibernating.get(number), _NUMBER.get(reading.quantity)
        if state is None or quantity is None:
            return False
        stamp_s = reading.stamp_s
        if not (stamp_s < opens_s(state) and arrival_s - LAG_S < stamp_s <= arrival_s):
            return False
        waiting = self._waiting.setdefault(number, bytearray())
        if len(waiting) >= MOST_WAITING * _READING.size:
            return False
        is_clamp = device == self.hookups[number].temperature_device
        waiting += _READING.pack(is_clamp, quantity, stamp_s, reading.value, arrival_s)
        return True

    def rest(self, number: int) -> None:
        """Hibernate a session that is at rest, if more are open than may be."""
        session = self._open.get(number)
        if session is None or len(self._open) <= KEPT_OPEN or session.bin_s < REST_BIN_S:
            return
        if "mass" not in session.beside:
            self.hibernate(number)

    def hibernate(self, number: int) -> None:
        """Hibernate a session if it is open; one whose other sensor goes on alone keeps too much for that."""
        session = self._open.get(number)
        if session is not None and max(len(session.clamp_queue), len(session.gauge_queue)) <= MOST_WAITING:
            del self._open[number]
            self._hibernating[number] = serialize(session)

    def state(self, number: int) -> bytes:
        """Return a session serialized, as it is after the last reading, and leave it as it is."""
        if number in self._hibernating and number not in self._waiting:
            return self._hibernating[number]
        was_hibernating = number in self._hibernating
        state = serialize(self[number])
        if was_hibernating:
            self._hibernating[number] = state
            del self._open[number]
        return state

    def is_silent(self, number: int, now_s: float) -> bool:
        """Whether either sensor has been silent for too long at `now_s` [s]; costs nothing while it hibernates."""
        state = self._hibernating.get(number)
        if state is not None and (number not in self._waiting or now_s <= silent_from_s(state)):
            return now_s > silent_from_s(state)
        return self[number].is_stale(now_s)

    def _opened(self, number: int) -> Session:
        hookup = self.hookups[number]
        session = restore(self._hibernating.pop(number), hookup, self.settings)
        if session is None:
            self.counts["sessions-unreadable"] += 1
            session = Session.of(hookup, self.settings)
        self._open[number] = session
        for is_clamp, quantity, stamp_s, value, arrival_s in _READING.iter_unpack(
            self._waiting.pop(number, b"")
        ):
            device = hookup.temperature_device if is_clamp else hookup.pressure_device
            reason = session.take(device, Reading(device, WAITING[quantity], stamp_s, value), arrival_s)
            if reason is not None:
                self.counts[f"dropped:{reason}"] += 1
        return session
