"""Sentences of strangers in another language: whatever somebody types, the page comes, and soon."""

import time

import pytest

from service.board.languages.catalog import read

CATALOG = read("es")


@pytest.mark.parametrize("unit", ["(", "leak: ", "lb of ", "no and ", "no way; ", "a. ", "way (", ") "])
def test_a_long_text_neither_ends_nor_holds_up_the_page(unit: str) -> None:
    """A refusal quotes what was typed: brackets in brackets were more than Python's stack."""
    typed = (unit * 20_000)[:20_000]
    begun = time.process_time()
    said = CATALOG.sentence(f"Hold: {typed}")
    assert typed[:40] in said or unit.strip() in said
    assert time.process_time() - begun < 1.0
