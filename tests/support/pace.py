"""How long this machine takes at the moment: what is too slow is judged against the same run."""

import time
from collections.abc import Callable

TIMES_A_LONE_ONE = 10.0


def lone_s(what: Callable[[], object], tries: int = 3) -> float:
    """The longest that something takes while nothing else is asked of it, [s]."""
    longest = 0.0
    for _ in range(tries):
        began = time.monotonic()
        what()
        longest = max(longest, time.monotonic() - began)
    return longest


def bound_s(on_an_idle_machine_s: float, lone: float) -> float:
    """What something may take under attack, [s]: more where a lone one takes long already."""
    return on_an_idle_machine_s + TIMES_A_LONE_ONE * lone
