"""One stack with the demo for every test that only looks or adds."""

import pytest

from tests.support.stack import Stack


@pytest.fixture(scope="session")
def demo_stack(tmp_path_factory):
    stack = Stack(tmp_path_factory.mktemp("demo") / "var", "--demo")
    try:
        yield stack.start()
    finally:
        stack.end()
