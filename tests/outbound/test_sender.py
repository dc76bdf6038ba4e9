"""One attempt: with `responses` for what receivers answer, with real sockets for what networks do."""

import socket
import ssl
import struct
import threading
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

import pytest
import requests
import responses

from service.outbound.addresses import AddressPolicy
from service.outbound.sender import Sender

URL = "https://hooks.example/in"
NOW = datetime(2026, 3, 1, 12, tzinfo=UTC)


def sender(**changes: object) -> Sender:
    return Sender(AddressPolicy(), resolve=lambda host, port: ["8.8.8.8"], now=lambda: NOW, **changes)


@responses.activate
@pytest.mark.parametrize(
    ("status", "accepted"), [(200, True), (204, True), (299, True), (301, False), (400, False)]
)
def test_only_2xx_is_accepted(status: int, accepted: bool) -> None:
    responses.post(URL, status=status)
    outcome = sender().send(URL, {"webhook-id": "evt_1"}, b"{}")
    assert (outcome.status, outcome.accepted) == (status, accepted)
    assert responses.calls[0].request.headers["webhook-id"] == "evt_1"
    assert responses.calls[0].request.body == b"{}"


@responses.activate
def test_a_redirect_is_not_followed() -> None:
    responses.post(URL, status=307, headers={"Location": "https://elsewhere.example/"})
    elsewhere = responses.post("https://elsewhere.example/", status=200)
    assert not sender().send(URL, {}, b"{}").accepted
    assert elsewhere.call_count == 0


@responses.activate
def test_retry_after_gone_and_excerpt_are_reported() -> None:
    responses.post(URL, status=503, headers={"Retry-After": "30"}, body="x" * 5000)
    outcome = sender().send(URL, {}, b"{}")
    assert outcome.retry_after == timedelta(seconds=30)
    assert len(outcome.excerpt) == 512
    responses.post(URL, status=410)
    responses.remove(responses.POST, URL)
    responses.post(URL, status=410)
    assert sender().send(URL, {}, b"{}").gone


@responses.activate
def test_a_broken_connection_is_an_outcome() -> None:
    responses.post(URL, body=requests.ConnectionError("reset by peer"))
    outcome = sender().send(URL, {}, b"{}")
    assert outcome.status is None
    assert "reset by peer" in str(outcome.error)


@responses.activate
def test_a_forbidden_target_is_never_called() -> None:
    call = responses.post(URL, status=200)
    outcome = Sender(AddressPolicy(), resolve=lambda host, port: ["169.254.169.254"]).send(URL, {}, b"{}")
    assert "forbidden target" in str(outcome.error)
    assert call.call_count == 0


@pytest.fixture
def listener() -> Iterator[socket.socket]:
    with socket.create_server(("127.0.0.1", 0)) as server:
        yield server


def _answer(server: socket.socket, *parts: bytes, pause_s: float = 0.0) -> list[bytes]:
    seen: list[bytes] = []

    def serve() -> None:
        client, _ = server.accept()
        with client:
            seen.append(client.recv(65536))
            for part in parts:
                try:
                    client.sendall(part)
                except OSError:
                    return
                stop.wait(pause_s)

    stop = threading.Event()
    threading.Thread(target=serve, daemon=True).start()
    return seen


def test_the_connection_goes_to_the_pinned_address_with_the_name_in_the_host_header(
    listener: socket.socket,
) -> None:
    """The name would not resolve at all; only the pinned address can lead here."""
    seen = _answer(listener, b"HTTP/1.1 204 No Content\r\n\r\n")
    port = listener.getsockname()[1]
    policy = AddressPolicy(frozenset({"fleet.invalid"}))
    outcome = Sender(policy, resolve=lambda host, port: ["127.0.0.1"]).send(
        f"http://fleet.invalid:{port}/in", {}, b"{}"
    )
    assert outcome.accepted, outcome.error
    assert f"Host: fleet.invalid:{port}\r\n".encode() in seen[0]
    assert seen[0].startswith(b"POST /in HTTP/1.1")


def test_a_receiver_that_drips_is_cut_off(listener: socket.socket) -> None:
    _answer(listener, b"HTTP/1.1 200 OK\r\n", *[b"X: y\r\n"] * 60, pause_s=0.2)
    port = listener.getsockname()[1]
    policy = AddressPolicy(frozenset({"127.0.0.1"}))
    outcome = Sender(policy, total_timeout_s=1.0).send(f"http://127.0.0.1:{port}/", {}, b"{}")
    assert not outcome.accepted
    assert outcome.duration_s < 5.0


def test_a_receiver_that_resets_within_its_answer_is_an_outcome(listener: socket.socket) -> None:
    def serve() -> None:
        client, _ = listener.accept()
        client.recv(65536)
        client.sendall(b"HTTP/1.1 200 OK\r\nContent-Length: 100\r\n\r\nbegun")
        client.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
        client.close()

    threading.Thread(target=serve, daemon=True).start()
    port = listener.getsockname()[1]
    outcome = Sender(AddressPolicy(frozenset({"127.0.0.1"}))).send(f"http://127.0.0.1:{port}/", {}, b"{}")
    assert not outcome.accepted
    assert "reset" in str(outcome.error)


def test_nobody_listening_is_an_outcome(listener: socket.socket) -> None:
    port = listener.getsockname()[1]
    listener.close()
    outcome = Sender(AddressPolicy(frozenset({"127.0.0.1"}))).send(f"http://127.0.0.1:{port}/", {}, b"{}")
    assert outcome.status is None
    assert "refused" in str(outcome.error)


def test_a_plain_server_behind_https_is_an_outcome(listener: socket.socket) -> None:
    _answer(listener, b"HTTP/1.1 200 OK\r\n\r\n")
    port = listener.getsockname()[1]
    outcome = Sender(AddressPolicy(frozenset({"127.0.0.1"}))).send(f"https://127.0.0.1:{port}/", {}, b"{}")
    assert outcome.status is None
    assert outcome.error is not None
    assert ssl.SSLError.__name__ in outcome.error or "SSL" in outcome.error
