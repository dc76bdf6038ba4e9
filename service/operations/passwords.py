"""Passwords as argon2id hashes. Each check takes 64 MiB of memory, so few run at once and not many wait."""

import os
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError

from service.operations.errors import Unavailable

AT_ONCE = min(4, max(1, (os.cpu_count() or 2) // 2))
"""A check keeps four threads busy; the rest of the service needs the processor too."""
MOST_WAITING = 12
"""Of callers that have failed lately, and as many again of those that have not."""
WAIT_S = 5.0
RETRY_AFTER_S = 2

_running = threading.BoundedSemaphore(AT_ONCE)
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
        if not _running.acquire(timeout=WAIT_S):
            raise Unavailable("Too many people are signing in at this moment.", RETRY_AFTER_S)
        try:
            yield
        finally:
            _running.release()
    finally:
        place.release()


def _place(first_try: bool) -> threading.BoundedSemaphore:
    for places in (_places, _kept_places) if first_try else (_places,):
        if places.acquire(blocking=False):
            return places
    raise Unavailable("Too many people are signing in at this moment.", RETRY_AFTER_S)
