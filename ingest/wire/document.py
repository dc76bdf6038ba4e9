"""The bytes of a message as the tree that mappings are read from."""

from __future__ import annotations

import json

from ingest.wire import cbor
from ingest.wire.reading import Refused
from ingest.wire.sparkplug import Address, Births

MOST_DEPTH = 16
MOST_TOLD = 8000
"""A larger tree is not told to the service; its beginning is, [characters]."""


def decode(payload: bytes) -> object:
    """Return a message's tree: JSON in UTF-8, or CBOR where its bytes are no text; raises Refused."""
    try:
        text = payload.decode()
    except UnicodeDecodeError:
        return _cbor(payload)
    try:
        return json.loads(text)
    except (ValueError, RecursionError) as error:
        raise Refused("not-json", f"not JSON in UTF-8: {error}"[:200]) from error


def _cbor(payload: bytes) -> object:
    try:
        return cbor.decode(payload, MOST_DEPTH)
    except ValueError as error:
        raise Refused("not-json", f"not JSON in UTF-8, and {error}"[:200]) from error


def told(payload: bytes, topic: str = "", births: Births | None = None) -> object | None:
    """Return the tree as the service can keep it, or None: it is no tree, too large, or holds what JSON does not.

    Metrics of Sparkplug B have the names that are known of births.
    """
    try:
        address = Address.of(topic)
        tree = decode(payload) if address is None else (births or Births()).shown(address, payload)
        text = json.dumps(tree, allow_nan=False)
        # Half a surrogate is text to JSON and to nobody else.
        json.dumps(tree, ensure_ascii=False).encode()
    except (Refused, TypeError, ValueError, RecursionError):
        return None
    return json.loads(text) if len(text) <= MOST_TOLD and "\\u0000" not in text else None
