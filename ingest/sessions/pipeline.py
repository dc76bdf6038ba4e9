"""Readings in, equilibrium pairs out: every hookup of one worker, in event time and without I/O."""

from __future__ import annotations

import math
import traceback
from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from typing import NamedTuple, TypeVar

from ingest.estimator.settling_settings import SettlingSettings
from ingest.sessions.misunderstood import MisunderstoodLines
from ingest.sessions.pairing import EquilibriumPair
from ingest.sessions.pool import SessionPool
from ingest.sessions.session import LOW_PERCENT, Session
from ingest.wire.hookup import Hookup
from ingest.wire.reading import Reading, Refused, Taken, owner
from ingest.wire.senml import read
from ingest.wire.translator import Translated, Translator

_Found = TypeVar("_Found")
MOST_DEVICES = 500_000
"""Names come from outside; more than this are not remembered."""
MOST_FAULTS = 5
"""So many faults of our own are kept to be logged; all are counted."""
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
        self.counts: Counter[str] = Counter()
        self.sessions = SessionPool(settings, self.counts)
        self.by_device: dict[str, tuple[int, ...]] = {}
        self.by_owner: dict[str, tuple[int, ...]] = {}
        """Hookups by the device that their devices are sensors of; a device without sensors is its own."""
        self.sensors: dict[str, tuple[str, ...]] = {}
        """By device the names under which it or sensors of it are hooked up."""
        self.beside: dict[str, tuple[int, ...]] = {}
        self.devices: dict[str, Device] = {}
        self.heard: set[str] = set()
        self.moved: set[int] = set()
        self.faults: list[str] = []
        self.misunderstood = MisunderstoodLines()

    def note_fault(self, of: str) -> None:
        """Note the exception in hand: a fault of our own that a message has met, which must not end the worker."""
        self.counts["faults"] += 1
        if len(self.faults) < MOST_FAULTS:
            self.faults.append(f"{of}: {traceback.format_exc()}")

    def attach(self, hookups: Iterable[Hookup]) -> list[int]:
        """Take the active hookups as they now are; sessions of others end. Returns the hookups that are new."""
        active = {hookup.id: hookup for hookup in hookups}
        known = self.sessions.hookups
        for gone in known.keys() - active.keys():
            self.sessions.end(gone)
        fresh = []
        for number, hookup in active.items():
            if number in known and known[number].identity == hookup.identity:
                self.sessions.know(hookup)
                continue
            self.sessions.begin(hookup)
            fresh.append(number)
        self._index()
        return fresh

    def _index(self) -> None:
        by_device: dict[str, tuple[int, ...]] = {}
        by_cylinder: dict[str, tuple[int, ...]] = {}
        for number, hookup in self.sessions.hookups.items():
            by_cylinder[hookup.cylinder] = (*by_cylinder.get(hookup.cylinder, ()), number)
            for name in {hookup.pressure_device, hookup.temperature_device}:
                by_device[name] = (*by_device.get(name, ()), number)
        self.by_device = by_device
        by_owner: dict[str, tuple[int, ...]] = {}
        sensors: dict[str, tuple[str, ...]] = {}
        for name, numbers in by_device.items():
            by_owner[owner(name)] = (*by_owner.get(owner(name), ()), *numbers)
            sensors[owner(name)] = (*sensors.get(owner(name), ()), name)
        self.by_owner, self.sensors = by_owner, sensors
        self.beside = {cylinder: all_ for cylinder, all_ in by_cylinder.items() if len(all_) > 1}

    def take(self, place: str, device: str, payload: bytes, arrival_s: float) -> list[EquilibriumPair]:
        """Take one pack as it arrived: `read` it and `feed` what it says; raises Refused."""
        return self.feed(place, device, self.read(device, payload, arrival_s).readings, arrival_s)

    def read(self, device: str, payload: bytes, arrival_s: float) -> Taken:
        """Read one pack as it arrived.

        Parameters
        ----------
        device : str
            What the topic names.
        payload : bytes
            The pack.
        arrival_s : float
            Time of arrival, seconds since 1970 UTC, [s].

        Returns
        -------
        Taken
            What it says, oldest first, and which of its records were refused.

        Raises
        ------
        Refused
            Nothing of it can be read; it is counted and nothing else has changed.
        """
        found = self._refusing(device, lambda: read(payload, device, arrival_s))
        self._count(found)
        return found

    def read_either(
        self, translator: Translator, topic: str, device: str, payload: bytes, arrival_s: float
    ) -> tuple[Taken, Translated | None]:
        """Read a message on the worker's own topic for which there is a mapping.

        Returns
        -------
        tuple
            What it says as SenML; and by the mapping what it does not say so, in whose place no refusal is told.

        Raises
        ------
        Refused
            Neither reads anything; what the mapping met is told, since it was made for these messages.
        """

        def reading() -> tuple[Taken, Translated | None]:
            try:
                plain = read(payload, device, arrival_s)
            except Refused:
                return Taken([]), translator.read(topic, payload, arrival_s)
            if not plain.refusals and not plain.unknown:
                return plain, None
            try:
                found = translator.read(topic, payload, arrival_s)
            except Refused:
                return plain, None
            known = {one[:2] for one in plain.readings}
            more = [one for one in found.taken.readings if one[:2] not in known]
            return (Taken(plain.readings), found._replace(taken=Taken(more))) if more else (plain, None)

        plain, found = self._refusing(device, reading)
        self._count(plain)
        if found is not None:
            self.counts["translated"] += 1
            self.counts["readings"] += len(found.taken.readings)
        return plain, found

    def read_foreign(
        self,
        translator: Translator,
        topic: str,
        payload: bytes,
        arrival_s: float,
        only: str = "",
        *,
        is_new: bool = True,
    ) -> Translated:
        """Read a message of another shape by the mappings, or one of them; counts and raises as `read` does."""
        found = self._refusing(topic, lambda: translator.read(topic, payload, arrival_s, only, is_new=is_new))
        self.counts["translated"] += 1
        self._count(found.taken)
        return found

    def _refusing(self, of: str, reading: Callable[[], _Found]) -> _Found:
        """Read, and count what is refused; a fault of our own refuses the message too."""
        try:
            return reading()
        except Refused as refused:
            self.counts[f"refused:{refused.reason}"] += 1
            raise
        except Exception as error:
            self.note_fault(f"a pack of {of}")
            self.counts["refused:fault"] += 1
            raise Refused("fault", f"the worker failed on it: {error!r}"[:200]) from error

    def _count(self, found: Taken) -> None:
        self.counts["packs"] += 1
        self.counts["readings"] += len(found.readings)
        for one in found.refusals:
            self.counts[f"refused-records:{one.reason}"] += 1
        if found.unknown:
            self.counts["unknown-names"] += len(found.unknown)

    def feed(
        self, place: str, device: str, readings: Iterable[Reading], arrival_s: float
    ) -> list[EquilibriumPair]:
        """Give a pack's readings to the hookups of their devices; returns the pairs that have settled with them."""
        pairs: list[EquilibriumPair] = []
        for reading in readings:
            self._see(place, reading)
            for name in self._hooked_names(reading, device):
                for number in self._numbers(place, name):
                    pairs += self._fed(number, name, reading, arrival_s)
        self.counts["pairs"] += len(pairs)
        return pairs

    def refeed(
        self, place: str, device: str, payload: bytes, arrival_s: float, wanted: Callable[[int], bool]
    ) -> list[EquilibriumPair]:
        """Give a stored pack to the hookups that want it; packs that were refused when they came are skipped."""
        if device.startswith("urn:dev:") and not any(map(wanted, self.by_owner.get(owner(device), ()))):
            return []
        try:
            readings = read(payload, device, arrival_s).readings
        except Exception:
            return []
        pairs: list[EquilibriumPair] = []
        for reading in readings:
            for name in self._hooked_names(reading, device):
                for number in filter(wanted, self._numbers(place, name)):
                    pairs += self._fed(number, name, reading, arrival_s)
        return pairs

    def disagreeing(self, session: Session) -> bool:
        """Whether another hookup on the same cylinder says something else at the same time."""
        others = self.beside.get(session.hookup.cylinder, ())
        mine = session.settling.provisional() if others else None
        if mine is None:
            return False
        for other in map(self.sessions.__getitem__, others):
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
        if reading.quantity == "battery" and reading.value <= LOW_PERCENT:
            self.counts["battery-low"] += 1

    def _hooked_names(self, reading: Reading, device: str) -> tuple[str, ...]:
        """Return by which names a reading is hooked up: what a gateway sends of others is its own where they are not.

        A sensor of a device is never the device itself: a manifold has two gauges. Its battery is that of them all.
        """
        sensor = reading.device
        if reading.quantity == "battery" and sensor in self.sensors:
            return self.sensors[sensor]
        return (sensor if sensor in self.by_device or device.startswith("urn:dev:") else device,)

    def _numbers(self, place: str, name: str) -> Iterable[int]:
        """Return the hookups that a device belongs to; a name used in two places means the one here."""
        numbers = self.by_device.get(name, ())
        if len(numbers) < 2:
            return numbers
        hookups = self.sessions.hookups
        return [number for number in numbers if hookups[number].place == place] or numbers

    def _fed(self, number: int, name: str, reading: Reading, arrival_s: float) -> list[EquilibriumPair]:
        """Feed a session; one that a reading breaks starts over, since the reading would come again at the start."""
        try:
            return self._feed(number, name, reading, arrival_s)
        except Exception:
            self.note_fault(f"hookup {number}, {reading}")
            self.counts["sessions-begun-anew"] += 1
            self.sessions.begin(self.sessions.hookups[number])
            return []

    def _feed(self, number: int, name: str, reading: Reading, arrival_s: float) -> list[EquilibriumPair]:
        sessions = self.sessions
        if reading.stamp_s < sessions.hookups[number].from_s:
            self.counts["dropped:before-hookup"] += 1
            return []
        if sessions.keeps(number, name, reading, arrival_s):
            return []
        session = sessions[number]
        reason = session.take(name, reading, arrival_s)
        self.moved.add(number)
        if reason is not None:
            self.counts[f"dropped:{reason}"] += 1
        pairs = []
        advanced = False
        while self._advance(session):
            advanced = True
            pair = session.new_pair()
            if pair is not None and self.disagreeing(session):
                pair = replace(pair, reasons=(*pair.reasons, "devices-disagree"))
            if pair is not None:
                pairs.append(pair)
        if advanced and session.hookup.cylinder not in self.beside:
            sessions.rest(number)
        return pairs

    def _advance(self, session: Session) -> bool:
        """Advance a session; no readings, however odd, may end the worker, which would meet them again at its start."""
        try:
            return session.advance()
        except ArithmeticError:
            self.counts["sessions-begun-anew"] += 1
            return True
