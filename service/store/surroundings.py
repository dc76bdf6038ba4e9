"""What is around the service on a machine: the processes beside it, and the room on its disk."""

import json
import shutil
import time
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from cryptography import x509

OLD_S = 60.0
"""The one-machine stack reports every five seconds."""


@dataclass(frozen=True, slots=True)
class Process:
    """A process of the stack that does not run as it should, and what is known of it."""

    name: str
    state: str
    deaths: int
    told: str


@dataclass(frozen=True, slots=True)
class Stack:
    """What the stack's supervisor reports: who does not run, which nightly chore failed; none when all is well."""

    silent_s: float | None
    broken: list[Process]
    failed: dict[str, str]


@dataclass(frozen=True, slots=True)
class Surroundings:
    """
    Where to look.

    Parameters
    ----------
    data
        The service's folder.
    report
        The file that the one-machine stack's supervisor writes; none elsewhere.
    certificate
        The file with the certificate by which phones reach the board; none where nothing is known of it.
    """

    data: Path
    report: Path | None = None
    certificate: Path | None = None

    def certificate_ends(self) -> datetime | None:
        """When the board's certificate ends; none when its file cannot be read."""
        try:
            chain = x509.load_pem_x509_certificates((self.certificate or Path()).read_bytes())
        except (OSError, ValueError):
            return None
        return min(one.not_valid_after_utc for one in chain)

    def free_bytes(self) -> int | None:
        """Room on the disk of the data folder [bytes]; none when it cannot be asked."""
        try:
            return shutil.disk_usage(self.data).free
        except OSError:
            return None

    def stack(self) -> Stack | None:
        """The supervisor's report; none where there is no supervisor."""
        if self.report is None:
            return None
        told = self._told()
        silent = None if told is None else time.time() - float(told["at"])
        if told is None or silent is None or silent > OLD_S:
            return Stack(silent if silent is not None else float("inf"), [], {})
        broken = [
            Process(one["name"], one["state"], one["deaths"], one["told"])
            for one in told["children"]
            if one["state"] != "running" and one["deaths"]
        ]
        return Stack(None, broken, {one["name"]: one["failed"] for one in told["chores"] if one["failed"]})

    def _told(self) -> dict[str, Any] | None:
        try:
            told: dict[str, Any] = json.loads((self.report or Path()).read_text(encoding="utf-8"))
        except (OSError, ValueError):
            return None
        return told
