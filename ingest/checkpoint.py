"""A session as bytes and back: what the replay point is made of."""

from __future__ import annotations

import hashlib
import io
import pickle
from dataclasses import fields

from ingest.clock import Clock
from ingest.codes import CodeWatch, Watch
from ingest.hookup import Hookup
from ingest.lag_bank import BankSettings, LagBank
from ingest.pairing import Pairing
from ingest.seat import Offset, Seat
from ingest.session import Sample, Session
from ingest.settling import Measured, Settling, SettlingSettings
from ingest.travel import Travel
from ingest.window import Limits, Series

_OURS = {
    cls.__qualname__: cls
    for cls in (
        Clock,
        Hookup,
        BankSettings,
        LagBank,
        Pairing,
        Sample,
        Session,
        Measured,
        Offset,
        Seat,
        Watch,
        CodeWatch,
        Travel,
        Settling,
        SettlingSettings,
        Limits,
        Series,
    )
}
_OTHERS = {
    ("collections", "deque"),
    ("numpy", "dtype"),
    ("numpy._core.numeric", "_frombuffer"),
}


def _layout() -> str:
    names = [
        f"{cls.__qualname__}:{','.join(f.name for f in fields(cls))}"
        for cls in (Clock, Hookup, Pairing, Session, Settling, Seat, CodeWatch, Travel, Limits, Series)
    ]
    names.append(",".join(sorted(LagBank.__slots__)))
    return hashlib.sha256("|".join(names).encode()).hexdigest()[:16]


LAYOUT = _layout()
"""Changes with the fields of any class above; a session of another layout is begun anew instead of misread."""


class _Writer(pickle.Pickler):
    """Leaves the settings out: a session goes on under the settings of the worker that reads it."""

    def persistent_id(self, obj: object) -> str | None:
        return (
            "settings"
            if isinstance(obj, SettlingSettings)
            else "bank"
            if isinstance(obj, BankSettings)
            else None
        )


class _Reader(pickle.Unpickler):
    """Makes nothing but what a session is made of."""

    def __init__(self, state: bytes, settings: SettlingSettings) -> None:
        super().__init__(io.BytesIO(state))
        self.settings = settings

    def persistent_load(self, pid: object) -> object:
        return self.settings if pid == "settings" else self.settings.bank

    def find_class(self, module: str, name: str) -> object:
        if module.startswith("ingest.") and name in _OURS:
            return _OURS[name]
        if (module, name) in _OTHERS:
            return super().find_class(module, name)
        raise pickle.UnpicklingError(f"{module}.{name} does not belong in a session")


def dump(session: Session) -> bytes:
    """Return a session as bytes."""
    out = io.BytesIO()
    _Writer(out, protocol=pickle.HIGHEST_PROTOCOL).dump(session)
    return out.getvalue()


def load(state: bytes, layout: str, settings: SettlingSettings) -> Session | None:
    """Return the session, or None if it was written with another layout or cannot be read."""
    if layout != LAYOUT:
        return None
    try:
        session = _Reader(state, settings).load()
    except Exception:
        return None
    return session if isinstance(session, Session) else None
