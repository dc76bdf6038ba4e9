"""CBOR (RFC 8949) as far as a reading needs it: without the tags by which few bytes become a tree without end.

A value that is shared, or a text that is referred to, is one object however often it is named: written out, as every
refusal and every log does, a kilobyte of them is larger than any memory.
"""

from __future__ import annotations

import io
from collections.abc import Callable
from typing import NoReturn

import cbor2

REFUSED = {
    2: "a number of more than 64 bits",
    3: "a number of more than 64 bits",
    25: "a reference to a text",
    28: "a shared value",
    29: "a reference to a value",
    35: "a regular expression",
    36: "a MIME message",
    256: "texts that are referred to",
}
"""Tags that no message may have: the registry's numbers (RFC 8949, 3.4, and IANA's registry of CBOR tags)."""


def _refusing(tag: int) -> Callable[..., NoReturn]:
    def refuse(*_: object) -> NoReturn:
        raise ValueError(f"tag {tag}, {REFUSED[tag]}, is not read")

    return refuse


_REFUSING = {tag: _refusing(tag) for tag in REFUSED}


def decode(payload: bytes, most_depth: int, *, duplicate_keys: bool = True) -> object:
    """Decode one item that fills a payload.

    Parameters
    ----------
    payload : bytes
        The bytes.
    most_depth : int
        Containers and tags may be nested so deep, [-].
    duplicate_keys : bool
        Whether a key may come twice in a map; the last one counts.

    Returns
    -------
    object
        The tree.

    Raises
    ------
    ValueError
        It is not CBOR, has a refused tag, or has bytes after its end; the message says which.
    """
    source = io.BytesIO(payload)
    decoder = cbor2.CBORDecoder(
        source, max_depth=most_depth, allow_duplicate_keys=duplicate_keys, semantic_decoders=_REFUSING
    )
    try:
        tree = decoder.decode()
    except Exception as error:
        # Some of the decoder's own conversions raise other errors than its own.
        raise ValueError(f"not CBOR: {error.__cause__ or error}"[:200]) from error
    if source.read(1):
        raise ValueError("bytes after the end of the CBOR, expected none")
    return tree
