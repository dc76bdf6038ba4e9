"""One installation of its own for every attack: `deploy.up` on free ports of this machine, with its own data."""

from collections.abc import Iterator

import pytest

from tests.support.stack import Stack


@pytest.fixture(scope="session")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Stack]:
    """A running installation without the demo; attacks leave it running."""
    stack = Stack(tmp_path_factory.mktemp("attacked") / "var")
    try:
        yield stack.start()
    finally:
        stack.end()
