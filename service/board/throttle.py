"""Guessing passwords is made slow, for whoever guesses alone: failures count by name and address together."""

import threading
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager

from flask import request
from flask_limiter import Limiter
from werkzeug.wrappers import Response

from service.operations.support.errors import Unavailable
from service.outbound.addresses import caller_key

TOO_MANY = "Too many failed attempts. Wait five minutes, then try again."
FAILED = 403
AT_ONCE = 8
"""Attempts of one address that may be under way."""
LATELY_S = 300.0
MOST_REMEMBERED = 10_000


def address() -> str:
    """Give the caller of this request."""
    return caller_key(request.remote_addr)


_under_way: Counter[str] = Counter()
_failures: dict[str, float] = {}
_counting = threading.Lock()
limiter = Limiter(key_func=address, strategy="moving-window", key_prefix="board")


def _name_at_address() -> str:
    return f"name:{request.form.get('login', '').strip().casefold()[:80]}|{address()}"


def _failed(response: Response) -> bool:
    failed = response.status_code == FAILED
    if failed:
        with _counting:
            _failures.pop(address(), None)
            _failures[address()] = time.monotonic()
            if len(_failures) > MOST_REMEMBERED:
                del _failures[next(iter(_failures))]
    return failed


def has_failed_lately() -> bool:
    """Tell whether an attempt from this caller's address failed in the last five minutes."""
    return time.monotonic() - _failures.get(address(), float("-inf")) < LATELY_S


by_name = limiter.limit(
    "10 per 5 minutes",
    key_func=_name_at_address,
    methods=["POST"],
    deduct_when=_failed,
    error_message=TOO_MANY,
)
by_address = limiter.limit("50 per 5 minutes", methods=["POST"], deduct_when=_failed, error_message=TOO_MANY)


@contextmanager
def share_of_address() -> Iterator[None]:
    """
    Hold one of the attempts that an address may have under way.

    Raises
    ------
    Unavailable
        When it has too many.
    """
    caller = address()
    with _counting:
        if _under_way[caller] >= AT_ONCE:
            raise Unavailable("Too many attempts to sign in at once from where you are.", 2)
        _under_way[caller] += 1
    try:
        yield
    finally:
        with _counting:
            _under_way[caller] -= 1
            if not _under_way[caller]:
                del _under_way[caller]
