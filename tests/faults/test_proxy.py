"""The proxy between processes: it must not keep alive what has died."""

import contextlib
import socket
import struct

import pytest

from tests.support.proxy import Proxy


@pytest.mark.parametrize("how", ["closed", "reset"])
def test_the_far_end_learns_that_the_near_one_has_gone(how: str) -> None:
    """A database would hold the locks of a killed service for ever, and wait for it."""
    with socket.create_server(("127.0.0.1", 0)) as server:
        server.settimeout(5)
        proxy = Proxy(server.getsockname()[1]).start()
        try:
            near = socket.create_connection(("127.0.0.1", proxy.port), timeout=5)
            far, _ = server.accept()
            far.settimeout(5)
            near.sendall(b"begin")
            assert far.recv(5) == b"begin"
            if how == "reset":
                near.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
            near.close()
            with far, contextlib.suppress(ConnectionResetError):
                assert far.recv(1) == b""
        finally:
            proxy.stop()
