"""A session serialized into a few bytes and restored: a replay point on the disk, and a hookup at rest in memory."""

from __future__ import annotations

import hashlib
import io
import math
import pickle
import struct
import zlib
from dataclasses import fields, is_dataclass
from operator import attrgetter
from typing import Any

import numpy as np

from ingest.estimator.bin_input import BinInput, Measured, SensorBin, SensorSetup
from ingest.estimator.device_clock import DeviceClock
from ingest.estimator.drift_history import DriftHistory
from ingest.estimator.filter_bank import FilterBank
from ingest.estimator.filter_settings import FilterSettings
from ingest.estimator.probe_offset import Offset, OffsetMonitor, Shift
from ingest.estimator.sensor_series import PRESSURE_LIMITS, TEMPERATURE_LIMITS, Limits, SensorSeries
from ingest.estimator.settling import Settling
from ingest.estimator.settling_settings import SettlingSettings
from ingest.estimator.stuck_sensor import Repetition, StuckWatch
from ingest.estimator.two_phase_test import TwoPhaseTest
from ingest.sessions.pairing import Pairing
from ingest.sessions.session import Sample, Session
from ingest.wire.hookup import Hookup

_CLASSES: tuple[type, ...] = (
    DeviceClock,
    FilterBank,
    Pairing,
    Sample,
    Session,
    Measured,
    SensorBin,
    BinInput,
    SensorSetup,
    Offset,
    Shift,
    OffsetMonitor,
    Repetition,
    StuckWatch,
    TwoPhaseTest,
    DriftHistory,
    Settling,
    SensorSeries,
)
"""What a session is made of; each is written as its number here and the values of its fields."""
_FRONT = struct.Struct("<dd")
_ARRAY, _SHARED = -1, -2
_SETTINGS, _BANK, _HOOKUP, _TEMPERATURE, _PRESSURE = range(5)


def _names(cls: type) -> tuple[str, ...]:
    if is_dataclass(cls):
        return tuple(field.name for field in fields(cls))
    named: tuple[str, ...] = getattr(cls, "_fields", ()) or tuple(sorted(getattr(cls, "__slots__", ())))
    return named


_NAMES = {cls: _names(cls) for cls in _CLASSES}
_NUMBERS = {cls: number for number, cls in enumerate(_CLASSES)}
_VALUES = {cls: attrgetter(*names) for cls, names in _NAMES.items()}
_LAYOUT = "|".join(f"{cls.__qualname__}:{','.join(names)}" for cls, names in _NAMES.items())


def layout(hookup: Hookup) -> str:
    """Return what a serialized session must have been written under to be read again for this hookup.

    It changes with the fields of any class above and with the devices, cylinder and start of the hookup; what was
    written under another one is started over instead of misread.
    """
    return hashlib.sha256(f"{_LAYOUT}|{hookup.identity}".encode()).hexdigest()[:16]


def made(*_values: object) -> object:
    """Stand, in the bytes, for what the reader makes of a number and values."""
    raise pickle.UnpicklingError("a session is read by `restore` alone")


def _shared(obj: object) -> int | None:
    """Return the number of what all sessions have in common, and the bytes therefore leave out."""
    if isinstance(obj, Limits):
        return _TEMPERATURE if obj == TEMPERATURE_LIMITS else _PRESSURE
    for number, cls in ((_SETTINGS, SettlingSettings), (_BANK, FilterSettings), (_HOOKUP, Hookup)):
        if isinstance(obj, cls):
            return number
    return None


class _Writer(pickle.Pickler):
    """Writes numbers for classes, and leaves out settings and hookup: a session goes on under those of its reader."""

    def reducer_override(self, obj: Any) -> Any:
        number = _NUMBERS.get(type(obj))
        if number is not None:
            return made, (number, *_VALUES[type(obj)](obj))
        if isinstance(obj, np.ndarray):
            return made, (_ARRAY, obj.shape, obj.tobytes())
        shared = _shared(obj)
        return NotImplemented if shared is None else (made, (_SHARED, shared))


class _Reader(pickle.Unpickler):
    """Makes nothing but what a session is made of."""

    def __init__(self, state: bytes, hookup: Hookup, settings: SettlingSettings) -> None:
        super().__init__(io.BytesIO(state))
        self.shared = (settings, settings.bank, hookup, TEMPERATURE_LIMITS, PRESSURE_LIMITS)

    def find_class(self, module: str, name: str) -> object:
        if (module, name) != (made.__module__, made.__name__):
            raise pickle.UnpicklingError(f"{module}.{name} does not belong in a session")
        return self._made

    def _made(self, number: int, *values: Any) -> object:
        if number == _ARRAY:
            shape, data = values
            return np.frombuffer(data).reshape(shape).copy()
        if number == _SHARED:
            return self.shared[values[0]]
        cls = _CLASSES[number]
        if cls is not FilterBank:
            return cls(*values)
        bank = object.__new__(FilterBank)
        for name, value in zip(_NAMES[FilterBank], values, strict=True):
            setattr(bank, name, value)
        return bank


def serialize(session: Session) -> bytes:
    """Return a session as bytes, exact to the last bit; what is asked of it at rest stands in front."""
    out = io.BytesIO()
    _Writer(out, protocol=pickle.HIGHEST_PROTOCOL).dump(session)
    series = (session.clamp, session.gauge)
    honest = all(sensor.clock.shift_s == 0.0 for sensor in series)
    silent_s = min(sensor.newest_s + sensor.gap_s for sensor in series)
    front = _FRONT.pack(session.bin_end_s if honest else -math.inf, silent_s)
    return front + zlib.compress(out.getbuffer(), 1)


def opens_s(state: bytes) -> float:
    """Return the end of the session's bin, [s]: only a reading from then on completes it."""
    return float(_FRONT.unpack_from(state)[0])


def silent_from_s(state: bytes) -> float:
    """Return from when on a sensor has been silent for too long, [s]."""
    return float(_FRONT.unpack_from(state)[1])


def restore(state: bytes, hookup: Hookup, settings: SettlingSettings) -> Session | None:
    """Return the session that was serialized, or None if the bytes are not one."""
    try:
        session = _Reader(zlib.decompress(state[_FRONT.size :]), hookup, settings).load()
    except Exception:
        return None
    return session if isinstance(session, Session) else None
