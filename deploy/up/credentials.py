"""Passwords of the embedded broker's two users: made once, kept in a file that only its owner can read."""

import json
import os
import secrets
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

GATEWAY_USER = "gateway"
WORKER_USER = "worker"


@dataclass(frozen=True, slots=True)
class BrokerCredentials:
    """One user for gateways and devices, one for the ingest worker."""

    gateway_password: str
    worker_password: str


def broker_credentials(data: Path) -> BrokerCredentials:
    """Read the broker's passwords, or make them on the first start."""
    path = data / "broker" / "credentials.json"
    if not path.exists():
        write_private(path, asdict(BrokerCredentials(secrets.token_urlsafe(24), secrets.token_urlsafe(24))))
    return BrokerCredentials(**json.loads(path.read_text(encoding="utf-8")))


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
