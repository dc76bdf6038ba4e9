"""CBOR of strangers: a few bytes stay a few bytes, whatever they name again and again."""

import struct

import pytest

from ingest.wire import document
from ingest.wire.cbor import REFUSED, decode
from ingest.wire.reading import Refused
from ingest.wire.senml import read

BEGIN, CALL = 28, 29


def head(major: int, number: int) -> bytes:
    """The first bytes of an item (RFC 8949, section 3)."""
    if number < 24:
        return bytes([major << 5 | number])
    return bytes([major << 5 | 25]) + struct.pack(">H", number)


def array(*items: bytes) -> bytes:
    return head(4, len(items)) + b"".join(items)


def tagged(tag: int, item: bytes) -> bytes:
    return head(6, tag) + item


def text(said: str) -> bytes:
    return head(3, len(said)) + said.encode()


def pack(value: bytes) -> bytes:
    return array(
        head(5, 3) + head(0, 0) + text("gauge-pressure") + head(0, 1) + text("Pa") + head(0, 2) + value
    )


def multiplied(levels: int, width: int = 60) -> bytes:
    """Lists of lists of one list: width to the power of levels members, in some hundred bytes."""
    first = tagged(BEGIN, array(*[text("a")] * width))
    return array(first, *(tagged(BEGIN, array(*[tagged(CALL, head(0, n))] * width)) for n in range(levels)))


def test_a_kilobyte_that_would_be_a_tree_of_millions_is_refused_by_every_reader() -> None:
    bomb = multiplied(4)
    assert len(pack(bomb)) < 1200
    with pytest.raises(Refused, match="shared value"):
        read(pack(bomb), "device", 1.7e9)
    mapped = head(5, 1) + text("kg") + bomb
    with pytest.raises(Refused, match="shared value"):
        document.decode(mapped)
    assert document.told(mapped) is None


@pytest.mark.parametrize("tag", REFUSED)
def test_a_refused_tag_is_named(tag: int) -> None:
    inner = head(2, 9) + b"\xff" * 9 if tag in (2, 3) else array() if tag in (BEGIN, 256) else text("a")
    with pytest.raises(ValueError, match=f"tag {tag}, " if tag not in (25, CALL) else "CBOR"):
        decode(array(tagged(tag, inner)), 8)


def test_a_number_without_end_is_refused_as_what_it_is() -> None:
    with pytest.raises(Refused) as caught:
        read(pack(tagged(2, head(2, 9000) + b"\xff" * 9000)), "device", 1.7e9)
    assert caught.value.reason == "not-senml"


def test_decimal_fractions_are_read() -> None:
    (reading,) = read(pack(tagged(4, array(head(1, 0), head(0, 8087)))), "device", 1.7e9).readings
    assert reading.value == pytest.approx(808.7)
