"""What to do with an answer of the service, as a value; the poster carries it out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

FIRST_WAIT_S = 2.0
LONGEST_WAIT_S = 300.0
SET_ASIDE_AFTER = 5
"""A body refused so many times with the same kind of answer is set aside."""
TOO_EARLY = {408, 423, 425, 429}


class Parcel(NamedTuple):
    """One pair on its way: its body, and how often it was tried and refused."""

    key: str
    body: str
    attempts: int
    refusals: int = 0


@dataclass(frozen=True, slots=True)
class Decision:
    """`stored`, `again` after `wait_s` [s], or `set-aside`; `answer` is what the service said, `refused` a refusal."""

    what: str
    wait_s: float = 0.0
    answer: str = ""
    refused: bool = False


def decide(
    status: int | None,
    attempts: int,
    answer: str,
    spread: float,
    retry_after_s: float | None = None,
    *,
    refusals: int = 0,
) -> Decision:
    """Decide what becomes of a pair.

    Parameters
    ----------
    status : int or None
        Status of the answer, None if there was none.
    attempts : int
        How often it was tried before, [-].
    answer : str
        What the service said, or the error.
    spread : float
        A number from 0 to 1 that spreads the retries of many workers, [-].
    retry_after_s : float or None
        What the service asked for, [s].
    refusals : int
        How often the service refused it before: tries that found the service away or broken do not count, [-].

    Returns
    -------
    Decision
        A service that is away, busy or broken, or that does not let the worker in, is asked again for ever; a body that
        it refuses is asked again a few times, since a hookup may not be known there yet, then set aside.
    """
    if status is not None and 200 <= status < 300:
        return Decision("stored")
    refused = (
        status is not None and 400 <= status < 500 and status not in TOO_EARLY and status not in (401, 403)
    )
    if refused and refusals + 1 >= SET_ASIDE_AFTER:
        return Decision("set-aside", 0.0, answer, refused=True)
    wait_s = min(LONGEST_WAIT_S, FIRST_WAIT_S * 2.0 ** min(attempts, 12)) * (0.5 + 0.5 * spread)
    if retry_after_s is not None:
        wait_s = max(wait_s, min(retry_after_s, LONGEST_WAIT_S))
    return Decision("again", wait_s, answer, refused)
