"""Clients that mean no good: slow, many, and from several addresses of this machine."""

import socket
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import requests

PERIOD_S = 0.5


class _Slow:
    """One client that is slow, and comes again when it is put out."""

    def __init__(self, port: int, opening: bytes, drip: bytes) -> None:
        self._port, self._opening, self._drip = port, opening, drip
        self._socket: socket.socket | None = None

    def step(self) -> None:
        """Connect and send the opening, or a few bytes more."""
        try:
            if self._socket is None:
                self._socket = socket.create_connection(("127.0.0.1", self._port), timeout=2.0)
                self._socket.sendall(self._opening)
                self._socket.setblocking(False)
            elif self._drip:
                self._socket.send(self._drip)
        except OSError:
            self.close()

    def close(self) -> None:
        """Hang up."""
        if self._socket is not None:
            self._socket.close()
            self._socket = None


@contextmanager
def slow_clients(port: int, count: int, opening: bytes, drip: bytes) -> Iterator[None]:
    """Hold so many connections: each sends an opening, then a few bytes at a time."""
    stopping = threading.Event()
    clients = [_Slow(port, opening, drip) for _ in range(count)]

    def hold() -> None:
        while not stopping.wait(PERIOD_S):
            for client in clients:
                if not stopping.is_set():
                    client.step()

    thread = threading.Thread(target=hold, daemon=True)
    thread.start()
    time.sleep(3.0)
    try:
        yield
    finally:
        stopping.set()
        thread.join(30)
        for client in clients:
            client.close()


def all_at_once(count: int, attempt: Callable[[int], object]) -> list[object]:
    """Do something from so many threads at one moment; what each gave, or the fault it raised."""
    results: list[object] = [None] * count
    ready = threading.Barrier(count)

    def run(number: int) -> None:
        try:
            ready.wait(60)
            results[number] = attempt(number)
        except Exception as fault:
            results[number] = fault

    threads = [threading.Thread(target=run, args=(number,), daemon=True) for number in range(count)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(120)
    return results


class FromAddress(requests.adapters.HTTPAdapter):
    """Calls from one of this machine's loopback addresses, 127.0.0.1 to 127.255.255.254 (Linux)."""

    def __init__(self, address: str) -> None:
        self._address = address
        super().__init__()

    def init_poolmanager(self, *arguments: object, **options: object) -> None:
        """As the adapter does, with a source address."""
        super().init_poolmanager(*arguments, source_address=(self._address, 0), **options)


def session_from(address: str) -> requests.Session:
    """A session whose requests come from this address."""
    session = requests.Session()
    session.mount("http://", FromAddress(address))
    return session
