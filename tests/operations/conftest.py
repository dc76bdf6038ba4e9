"""Fixtures of the use cases alone."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.support.delivery import World, delivery_world


@pytest.fixture
def world(tmp_path: Path) -> Iterator[World]:
    """A receiver instead of the network, and a clock of our own."""
    with delivery_world(tmp_path) as made:
        yield made
