"""Who may do what at the MQTT broker, as the two files that Mosquitto reads: passwords and topic rights.

Sources: ``mosquitto.conf(5)`` (``password_file``, ``acl_file``: what no line allows is refused) and, for the
``$7$`` form, ``mosquitto_passwd(1)``; the layout of its fields is read from files that program wrote.
"""

import base64
import hashlib
import hmac
from collections.abc import Iterable
from dataclasses import dataclass

ANY_DEVICE = "+"
"""Stands for every device of a place: the right of a gateway that publishes for its probes."""
GATEWAY_LEVEL = "gateway"
"""The device level of a topic on which one pack may carry readings of several devices. No device may have this name,
so the broker's rights alone decide who speaks for others: whoever has the right to every device of the place."""
PLACE, DEVICE = "{place}", "{device}"
"""Levels of a mapping's topic that name where a message belongs."""
SPARKPLUG, NODE_LEVEL = "spBv1.0", 3
"""First level of Sparkplug B's topics, and which one is the edge node's."""
_HEADER = "# Written by `heelmark broker-files`; edits are lost."
_ITERATIONS = 20_000
SALT_BYTES = 12
"""What Mosquitto expects; with another length it refuses the password."""


class UnusableName(ValueError):
    """A place, device or user name that would break out of its topic level or its line."""


@dataclass(frozen=True, slots=True)
class BrokerUser:
    """
    One user of the broker and the topic patterns it has rights to; none when there is nothing it may do.

    The broker takes the user's name for its client id, so that nobody can take over another's session.
    """

    username: str
    password_hash: str
    may_publish: str | None = None
    may_subscribe: str | None = None
    foreign: tuple[tuple[str, str], ...] = ()
    """Rights on the topics of mappings, ``read`` or ``write`` and a pattern each."""


def device_user(root: str, place: str, device: str, username: str, password_hash: str) -> BrokerUser:
    """
    A device publishes its own readings in its own place, and hears why one was refused; nothing else.

    Raises
    ------
    UnusableName
        ``place`` or ``device`` is not one plain topic level, or ``device`` is the gateways' own.
    """
    if device == GATEWAY_LEVEL:
        raise UnusableName(
            f"device {device!r}: this level is kept for gateways, which speak for several devices"
        )
    level = device if device == ANY_DEVICE else _level("device", device)
    base = f"{root}/{_level('place', place)}"
    return BrokerUser(username, password_hash, f"{base}/readings/{level}", f"{base}/refused/{level}")


def worker_user(root: str, username: str, password_hash: str) -> BrokerUser:
    """The worker reads all readings and says which were refused."""
    return BrokerUser(username, password_hash, f"{root}/+/refused/+", f"{root}/+/readings/+")


def worker_on(topics: Iterable[str]) -> tuple[tuple[str, str], ...]:
    """
    What the worker needs on the topics of mappings, written with levels in braces: to read them.

    Of Sparkplug B it reads all that a node says, and asks it for its births.
    """
    rights: set[tuple[str, str]] = set()
    for levels in (topic.split("/") for topic in topics):
        pattern = ["+" if _varies(level) else level for level in levels]
        rights.add(("read", "/".join(pattern)))
        if pattern[0] == SPARKPLUG and len(pattern) > NODE_LEVEL:
            group, node = pattern[1], pattern[NODE_LEVEL]
            rights |= {("read", f"{SPARKPLUG}/{group}/+/{node}{end}") for end in ("", "/+")}
            rights.add(("write", f"{SPARKPLUG}/{group}/NCMD/{node}"))
    return tuple(sorted(rights))


def device_on(topics: Iterable[str], place: str, device: str) -> tuple[tuple[str, str], ...]:
    """
    What a device, or the gateway of a place, needs on the topics of mappings: to publish there as itself.

    Only topics that name the place, and for a device the device, are given: what the payload says of itself the broker
    cannot hold anybody to.
    """
    rights: set[tuple[str, str]] = set()
    for topic in topics:
        levels = topic.split("/")
        if PLACE not in levels or (device != ANY_DEVICE and DEVICE not in levels):
            continue
        own = {PLACE: _level("place", place), DEVICE: device}
        if levels[0] == SPARKPLUG and device == ANY_DEVICE and levels[1] == PLACE:
            rights |= {("write", f"{SPARKPLUG}/{place}/+/+{end}") for end in ("", "/+")}
            rights.add(("read", f"{SPARKPLUG}/{place}/NCMD/+"))
        rights.add(("write", "/".join(own.get(level, "+" if _varies(level) else level) for level in levels)))
    return tuple(sorted(rights))


def _varies(level: str) -> bool:
    return level.startswith("{")


def shared_gateway_user(root: str, username: str, password_hash: str) -> BrokerUser:
    """The gateway user of every place that a one-machine installation of version 0.1 has made."""
    return BrokerUser(username, password_hash, f"{root}/+/readings/+", f"{root}/+/refused/+")


def hash_password(password: str, salt: bytes) -> str:
    """
    A password as Mosquitto keeps it: PBKDF2 with SHA-512.

    The iterations are few because the passwords are ours, 256 random bits, which no search reaches.
    """
    if len(salt) != SALT_BYTES:
        raise ValueError(f"salt has {len(salt)} bytes, expected {SALT_BYTES}")
    digest = hashlib.pbkdf2_hmac("sha512", password.encode("utf-8"), salt, _ITERATIONS)
    fields = ("", "7", str(_ITERATIONS), _base64(salt), _base64(digest))
    return "$".join(fields)


def verifies(password: str, hashed: str) -> bool:
    """Whether a hash in Mosquitto's form is of this password."""
    try:
        _, kind, iterations, salt, digest = hashed.split("$")
        again = hashlib.pbkdf2_hmac("sha512", password.encode(), base64.b64decode(salt), int(iterations))
        return kind == "7" and hmac.compare_digest(again, base64.b64decode(digest))
    except ValueError:
        return False


def password_file(users: Iterable[BrokerUser]) -> str:
    """One ``user:hash`` line each."""
    lines = [f"{_plain('username', user.username)}:{user.password_hash}" for user in users]
    return "\n".join([*lines, ""])


def acl_file(users: Iterable[BrokerUser]) -> str:
    """One paragraph each; what it does not allow is refused."""
    return "\n".join([_HEADER, "", *(_paragraph(user) for user in users)])


def _paragraph(user: BrokerUser) -> str:
    rights = (("write", user.may_publish), ("read", user.may_subscribe))
    lines = [f"topic {right} {pattern}" for right, pattern in (*rights, *user.foreign) if pattern is not None]
    return "\n".join([f"user {_plain('username', user.username)}", *lines, ""])


def _level(kind: str, name: str) -> str:
    if not name or set(name) & set("/+#") or not name.isprintable() or name != name.strip():
        raise UnusableName(f"{kind} {name!r}: expected one printable topic level without '/', '+', '#'")
    return name


def _plain(kind: str, name: str) -> str:
    if not name or not all(c.isascii() and (c.isalnum() or c in "-_.") for c in name):
        raise UnusableName(f"{kind} {name!r}: expected letters, digits, '-', '_', '.'")
    return name


def _base64(data: bytes) -> str:
    return base64.b64encode(data).decode("ascii")
