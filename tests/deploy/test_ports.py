"""A port in use gets a sentence that names the port and the setting."""

import socket

import pytest

from deploy.up.ports import accepts_connections, answers_ok, ensure_free
from deploy.up.refusal import StartRefused


@pytest.fixture
def taken():
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        listener.listen()
        yield listener.getsockname()[1]


def test_a_port_in_use_is_named_with_the_setting_that_moves_it(taken):
    with pytest.raises(
        StartRefused, match=f"port {taken} on 127.0.0.1 cannot be used .*HEELMARK_HTTP_PORT={taken + 1}"
    ):
        ensure_free("127.0.0.1", taken, "HEELMARK_HTTP_PORT")


def test_a_free_port_passes_and_is_left_free(taken):
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        free = other.getsockname()[1]
    ensure_free("127.0.0.1", free, "HEELMARK_HTTP_PORT")
    assert not accepts_connections("127.0.0.1", free)


def test_a_listener_that_speaks_no_http_is_not_a_ready_service(taken):
    assert accepts_connections("127.0.0.1", taken)
    assert not answers_ok("127.0.0.1", taken, "/readyz")
