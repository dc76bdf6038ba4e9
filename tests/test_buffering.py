"""The server as clients meet it: whole answers, kept connections, large and odd requests, a stop that drains."""

import http.client
import os
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
import requests

from tests.support.waiting import until

APPLICATION = """
import hashlib, time

def app(environ, start_response):
    path = environ["PATH_INFO"]
    if path == "/large":
        body = [b"x" * 12_000_000]
    elif path == "/stream":
        body = (time.sleep(0.05) or b"data: %d\\n\\n" % n for n in range(1000))
    elif path == "/unread":
        body = [b"not read"]
    elif path == "/slow":
        time.sleep(1.0)
        body = [b"done"]
    else:
        body = [hashlib.sha256(environ["wsgi.input"].read()).hexdigest().encode()]
    start_response("200 OK", [("Content-Type", "text/plain")])
    return body
"""
CONFIGURATION = """
from service.serving import *
bind = "127.0.0.1:{port}"
threads = 4
worker_connections = 40
graceful_timeout = 5
"""


class Server:
    """gunicorn with our worker and a small application."""

    def __init__(self, folder: Path) -> None:
        with socket.create_server(("127.0.0.1", 0)) as free:
            self.port = free.getsockname()[1]
        (folder / "small_application.py").write_text(APPLICATION)
        (folder / "configuration.py").write_text(CONFIGURATION.format(port=self.port))
        environment = {
            **os.environ,
            "PYTHONPATH": f"{folder}:{Path(__file__).parents[1]}",
            "HEELMARK_SECRET_KEY": "s" * 40,
        }
        command = [sys.executable, "-m", "gunicorn", "--config", str(folder / "configuration.py")]
        self.process = subprocess.Popen([*command, "small_application:app"], env=environment, cwd=folder)
        until(self.answers, 30)

    def answers(self) -> bool:
        with socket.socket() as probe:
            return probe.connect_ex(("127.0.0.1", self.port)) == 0

    def connect(self) -> socket.socket:
        return socket.create_connection(("127.0.0.1", self.port), timeout=10)

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}"


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    made = Server(tmp_path_factory.mktemp("server"))
    yield made
    made.process.terminate()
    made.process.wait(20)


def read_to_end(connection: socket.socket) -> bytes:
    received = b""
    while data := connection.recv(65536):
        received += data
    return received


def digest(body: bytes) -> str:
    import hashlib

    return hashlib.sha256(body).hexdigest()


def test_a_connection_serves_many_requests(server: Server) -> None:
    connection = http.client.HTTPConnection("127.0.0.1", server.port, timeout=10)
    for number in range(20):
        body = b"x" * (number * 50_000)
        connection.request("POST", "/", body)
        assert connection.getresponse().read().decode() == digest(body)
    connection.close()


def test_requests_sent_at_once_are_answered_in_turn(server: Server) -> None:
    with server.connect() as connection:
        one = b"POST / HTTP/1.1\r\nHost: x\r\nContent-Length: 3\r\n\r\nabc"
        last = b"POST / HTTP/1.1\r\nHost: x\r\nConnection: close\r\nContent-Length: 3\r\n\r\nabc"
        whole = one * 5 + last
        for start in range(0, len(whole), 37):
            connection.sendall(whole[start : start + 37])
        assert read_to_end(connection).count(digest(b"abc").encode()) == 6


def test_a_body_in_chunks(server: Server) -> None:
    parts = [b"part %d " % number * 100 for number in range(50)]
    answer = requests.post(server.url, data=iter(parts), timeout=10)
    assert answer.text == digest(b"".join(parts))


def test_a_client_that_waits_to_be_asked_for_its_body_is_asked(server: Server) -> None:
    with server.connect() as connection:
        connection.sendall(
            b"POST / HTTP/1.1\r\nHost: x\r\nConnection: close\r\nExpect: 100-continue\r\nContent-Length: 3\r\n\r\n"
        )
        assert connection.recv(100).startswith(b"HTTP/1.1 100 ")
        connection.sendall(b"abc")
        assert digest(b"abc").encode() in read_to_end(connection)


def test_a_body_beyond_what_is_kept_reaches_an_application_that_reads_it(server: Server) -> None:
    body = os.urandom(5_000_000)
    assert requests.post(server.url, data=body, timeout=30).text == digest(body)


def test_a_large_body_that_nobody_reads_ends_the_connection(server: Server) -> None:
    with server.connect() as connection:
        connection.sendall(b"POST /unread HTTP/1.1\r\nHost: x\r\nContent-Length: 90000000\r\n\r\nabc")
        began = time.monotonic()
        assert b"not read" in read_to_end(connection)
        assert time.monotonic() - began < 4


def test_a_large_answer_comes_whole_to_a_slow_reader(server: Server) -> None:
    with server.connect() as connection:
        connection.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 262_144)
        connection.sendall(b"GET /large HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n")
        received = 0
        while data := connection.recv(262_144):
            received += len(data)
            time.sleep(0.005)
        assert received > 12_000_000


def test_clients_that_never_read_take_no_thread(server: Server) -> None:
    """Twice as many as there are threads, each with an answer that fits into no buffer of the system."""
    deaf = [server.connect() for _ in range(8)]
    for one in deaf:
        one.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
        one.sendall(b"GET /large HTTP/1.1\r\nHost: x\r\n\r\n")
    time.sleep(0.5)
    began = time.monotonic()
    assert requests.get(server.url, timeout=10).ok
    assert time.monotonic() - began < 2
    for one in deaf:
        one.close()


def test_a_stream_flows_and_ends_with_its_reader(server: Server) -> None:
    with requests.get(f"{server.url}/stream", stream=True, timeout=10) as answer:
        lines = answer.iter_lines()
        assert [next(lines) for _ in range(5)][-1] == b"data: 2"
    began = time.monotonic()
    for _ in range(5):
        assert requests.get(server.url, timeout=10).ok
    assert time.monotonic() - began < 3


def test_a_head_that_is_none_is_refused(server: Server) -> None:
    for nonsense in (b"\x00\x01\x02\r\n\r\n", b"GET\r\n\r\n", b"GET / HTTP/1.1\r\nno header\r\n\r\n"):
        with server.connect() as connection:
            connection.sendall(nonsense)
            assert read_to_end(connection).startswith(b"HTTP/1.1 4")
    with server.connect() as connection:
        connection.sendall(b"GET / HTTP/1.1\r\nX: " + b"y" * 70_000)
        assert read_to_end(connection).startswith(b"HTTP/1.1 4")


def test_more_connections_than_places_put_the_oldest_idle_one_out(server: Server) -> None:
    idle = [server.connect() for _ in range(60)]
    assert requests.get(server.url, timeout=10).ok
    idle[0].settimeout(5)
    assert idle[0].recv(1) == b""
    for one in idle:
        one.close()


def test_a_stop_lets_what_is_asked_be_answered(tmp_path: Path) -> None:
    server = Server(tmp_path)
    answers: list[str] = []
    asking = threading.Thread(
        target=lambda: answers.append(requests.get(f"{server.url}/slow", timeout=10).text)
    )
    idle = server.connect()
    asking.start()
    time.sleep(0.4)
    began = time.monotonic()
    server.process.send_signal(signal.SIGTERM)
    assert server.process.wait(20) == 0
    assert time.monotonic() - began < 5, "an idle connection held it up"
    asking.join(10)
    idle.close()
    assert answers == ["done"]
