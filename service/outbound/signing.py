"""Sign webhook messages by the Standard Webhooks scheme, symmetric variant.

Source: the Standard Webhooks specification, "Webhook headers" and "Signature scheme": the signed text is
``{id}.{timestamp}.{body}``, HMAC-SHA256 with 24 to 64 random bytes, written ``v1,<base64>``; several
signatures, separated by a space, let a receiver rotate its secret without missing a message.
"""

import base64
import binascii
import hashlib
import hmac
from collections.abc import Sequence
from datetime import datetime

SECRET_PREFIX = "whsec_"  # noqa: S105 - the scheme's public prefix
SHORTEST_KEY_BYTES = 24
LONGEST_KEY_BYTES = 64


class MalformedSecret(ValueError):
    """The text is not a Standard Webhooks secret; its value is kept out of the message."""


def secret_from_key(key: bytes) -> str:
    """Write a key of 24 to 64 bytes the way receivers expect it, ``whsec_<base64>``."""
    if not SHORTEST_KEY_BYTES <= len(key) <= LONGEST_KEY_BYTES:
        raise MalformedSecret(f"a key has {SHORTEST_KEY_BYTES} to {LONGEST_KEY_BYTES} bytes, got {len(key)}")
    return SECRET_PREFIX + base64.b64encode(key).decode("ascii")


def key_from_secret(secret: str) -> bytes:
    """Read the key back out of ``whsec_<base64>``.

    Raises
    ------
    MalformedSecret
        The prefix, the base64 or the length is wrong.
    """
    if not secret.startswith(SECRET_PREFIX):
        raise MalformedSecret(f"a secret starts with {SECRET_PREFIX!r}")
    try:
        key = base64.b64decode(secret.removeprefix(SECRET_PREFIX), validate=True)
    except (binascii.Error, ValueError):
        raise MalformedSecret("what follows the prefix is not base64") from None
    secret_from_key(key)
    return key


def signature(secret: str, message_id: str, timestamp: int, body: bytes) -> str:
    """One ``v1,<base64>`` signature over the id, the attempt's Unix time [s] and the raw body."""
    signed = b"%s.%d.%s" % (message_id.encode("utf-8"), timestamp, body)
    digest = hmac.new(key_from_secret(secret), signed, hashlib.sha256).digest()
    return "v1," + base64.b64encode(digest).decode("ascii")


def signed_headers(
    secrets: Sequence[str], message_id: str, attempted_at: datetime, body: bytes
) -> dict[str, str]:
    """Write the three ``webhook-`` headers; every secret that is still valid signs, the newest first."""
    timestamp = int(attempted_at.timestamp())
    return {
        "webhook-id": message_id,
        "webhook-timestamp": str(timestamp),
        "webhook-signature": " ".join(signature(s, message_id, timestamp, body) for s in secrets),
    }
