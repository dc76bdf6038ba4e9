"""Waiting for what other processes do, and what a worker last said of itself."""

import json
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

LOOK_S = 0.02


def came(what: Callable[[], object], within_s: float) -> bool:
    """Wait until something is so, at most `within_s` [s]; returns whether it came."""
    end = time.monotonic() + within_s
    while not what():
        if time.monotonic() >= end:
            return False
        time.sleep(LOOK_S)
    return True


def until(what: Callable[[], object], within_s: float = 20.0) -> None:
    """Wait until something is so; AssertionError if it is not within `within_s` [s]."""
    assert came(what, within_s), "waited in vain"


def worker_status(data: Path) -> dict[str, Any]:
    """Read what the worker of a data folder last said of itself; empty before it does."""
    try:
        status: dict[str, Any] = json.loads((data / "status.json").read_text(encoding="utf-8"))
        return status
    except (OSError, ValueError):
        return {}
