"""Who may do what at amqtt, from the files that `heelmark broker-files` writes for mosquitto."""

from dataclasses import dataclass, field
from pathlib import Path


@dataclass(frozen=True, slots=True)
class User:
    """One user: the password's hash in mosquitto's form, and topic patterns by right (`write`, `read`)."""

    hashed: str
    rights: dict[str, list[str]] = field(default_factory=lambda: {"write": [], "read": []})


def read_users(folder: Path) -> dict[str, User]:
    """Read the files `passwords` and `acl`."""
    lines = (folder / "passwords").read_text(encoding="utf-8").splitlines()
    users = {name: User(hashed) for name, _, hashed in (line.partition(":") for line in lines)}
    rights: dict[str, list[str]] = {}
    for line in (folder / "acl").read_text(encoding="utf-8").splitlines():
        kind, _, rest = line.partition(" ")
        if kind == "user":
            rights = users[rest].rights if rest in users else {}
        elif kind == "topic":
            right, _, pattern = rest.partition(" ")
            rights.setdefault(right, []).append(pattern)
    return users


def allows(pattern: str, topic: str) -> bool:
    """Whether a pattern with `+` covers a topic."""
    allowed, asked = pattern.split("/"), topic.split("/")
    return len(allowed) == len(asked) and all(a in ("+", b) for a, b in zip(allowed, asked, strict=True))
