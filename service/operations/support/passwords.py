"""Passwords as argon2id hashes. Each check takes 64 MiB of memory, so few run at once and not many wait."""

import os
import threading
from collections import deque
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError

from service.operations.support.errors import Unavailable

AT_ONCE = min(4, max(1, (os.cpu_count() or 2) // 2))
"""A check keeps four threads busy; the rest of the service needs the processor too."""
MOST_WAITING = 12
"""Of callers that have failed lately, and as many again of those that have not."""
WAIT_S = 5.0
RETRY_AFTER_S = 2


class Turns:
    """So many at once, each in its turn; who has not failed lately goes before all who have."""

    def __init__(self, at_once: int) -> None:
        self._free, self._changed = at_once, threading.Condition()
        self._waiting: tuple[deque[object], deque[object]] = (deque(), deque())

    def take(self, within_s: float, *, first_try: bool) -> bool:
        """Wait for a turn, at most for so long [s]; tells whether there was one, which has to be given back."""
        me, lane = object(), self._waiting[0 if first_try else 1]
        with self._changed:
            lane.append(me)
            try:
                taken = self._changed.wait_for(lambda: self._free > 0 and self._first() is me, within_s)
                self._free -= taken
            finally:
                lane.remove(me)
                # Somebody else may be first now.
                self._changed.notify_all()
        return taken

    @property
    def waiting(self) -> int:
        """How many wait."""
        return sum(map(len, self._waiting))

    def give_back(self) -> None:
        """End a turn."""
        with self._changed:
            self._free += 1
            self._changed.notify_all()

    def _first(self) -> object:
        return next(lane[0] for lane in self._waiting if lane)


_turns = Turns(AT_ONCE)
_places, _kept_places = (threading.BoundedSemaphore(AT_ONCE + MOST_WAITING) for _ in range(2))


@cache
def _hasher() -> PasswordHasher:
    return PasswordHasher()


@cache
def nobody() -> str:
    """A hash to check when a login is unknown, so that the answer takes as long as for a wrong password."""
    return hashed("nobody has this password")


def hashed(password: str) -> str:
    """
    What is kept of a password.

    Raises
    ------
    Unavailable
        When too many are being checked.
    """
    with _turn():
        return _hasher().hash(password)


def fits(password: str, kept: str, *, first_try: bool = False) -> bool:
    """
    Whether it is the password of this hash.

    Parameters
    ----------
    password, kept
        What was typed, and what is kept.
    first_try
        The caller has not failed lately; places are kept for such callers, so that guessers cannot take all.

    Raises
    ------
    Unavailable
        When too many are being checked.
    """
    with _turn(first_try=first_try):
        try:
            return _hasher().verify(kept, password)
        except (VerificationError, InvalidHashError):
            return False


def is_dated(kept: str) -> bool:
    """Whether the hash was made with weaker parameters than today's."""
    return _hasher().check_needs_rehash(kept)


@contextmanager
def _turn(*, first_try: bool = True) -> Iterator[None]:
    place = _place(first_try)
    try:
        if not _turns.take(WAIT_S, first_try=first_try):
            raise Unavailable("Too many people are signing in at this moment.", RETRY_AFTER_S)
        try:
            yield
        finally:
            _turns.give_back()
    finally:
        place.release()


def _place(first_try: bool) -> threading.BoundedSemaphore:
    for places in (_places, _kept_places) if first_try else (_places,):
        if places.acquire(blocking=False):
            return places
    raise Unavailable("Too many people are signing in at this moment.", RETRY_AFTER_S)
