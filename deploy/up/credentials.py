"""Passwords of the broker's own users: made once, kept in a file that only its owner can read."""

import json
import os
import re
import secrets
from dataclasses import dataclass
from pathlib import Path
from typing import Any

SHARED_GATEWAY = "gateway"
"""The user that every gateway of an installation of version 0.1 shared; still let in where there was one."""


@dataclass(frozen=True, slots=True)
class BrokerCredentials:
    """The worker's user, and the shared gateway's password in a data folder that version 0.1 has made.

    The worker's user is also the name of its session at the broker. It is random because mosquitto before 2.0.13
    drops the session of whatever name a client without a user gives (seen with 2.0.11).
    """

    worker_password: str
    worker_user: str
    gateway_password: str | None = None


def broker_credentials(data: Path, root: str) -> BrokerCredentials:
    """Read the broker's own users, or make them on the first start."""
    path = data / "broker" / "credentials.json"
    if not path.exists():
        password, user = secrets.token_urlsafe(24), f"worker-{secrets.token_hex(8)}"
        write_private(path, {"worker_password": password, "worker_user": user})
    kept = json.loads(path.read_text(encoding="utf-8"))
    # Version 0.1 named the session so; another name would leave behind what the broker keeps for it.
    session = re.sub(r"[^A-Za-z0-9_.-]", "-", f"{root}-ingest-all")
    return BrokerCredentials(**{"worker_user": session, **kept})


def write_private(path: Path, content: Any) -> None:
    """Write JSON that nobody else may read (mode 0600), whole or not at all."""
    write_private_text(path, json.dumps(content, indent=2) + "\n")


def write_private_text(path: Path, text: str) -> None:
    """Write a text that nobody else may read (mode 0600), whole or not at all."""
    path.parent.mkdir(parents=True, exist_ok=True)
    fresh = path.with_name(f".{path.name}.new")
    fresh.unlink(missing_ok=True)
    descriptor = os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(descriptor, "w", encoding="utf-8") as file:
        file.write(text)
        file.flush()
        os.fsync(file.fileno())
    fresh.replace(path)
