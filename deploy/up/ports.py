"""Ports: free before a child takes them, open once it has."""

import socket
import time
from collections.abc import Callable
from http.client import HTTPConnection, HTTPException

from deploy.up.refusal import StartRefused


def ensure_free(host: str, port: int, setting: str) -> None:
    """Refuse to start when something else listens where a child would.

    Parameters
    ----------
    host : str
        Address to bind.
    port : int
        Port to bind.
    setting : str
        The setting that moves the port, named in the refusal.

    Raises
    ------
    StartRefused
        When the port is taken or may not be bound.
    """
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    with socket.socket(family, socket.SOCK_STREAM) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, port))
        except OSError as fault:
            raise StartRefused(
                f"port {port} on {host} cannot be used ({fault.strerror}); "
                f"stop what uses it, or take another one, e.g. {setting}={port + 1} sh deploy/up.sh"
            ) from fault


def accepts_connections(host: str, port: int) -> bool:
    """Whether something accepts TCP connections there."""
    try:
        with socket.create_connection((host, port), timeout=1.0):
            return True
    except OSError:
        return False


def answers_mqtt(host: str, port: int, timeout_s: float = 10.0) -> bool:
    """Whether a broker answers there within a time [s]; a client without a user is refused, which is an answer."""
    connect = b"\x10\x0c\x00\x04MQTT\x04\x02\x00\x0a\x00\x00"
    try:
        with socket.create_connection((host, port), timeout=timeout_s) as broker:
            broker.sendall(connect)
            return broker.recv(1) == b"\x20"
    except OSError:
        return False


def answers_ok(host: str, port: int, path: str, timeout_s: float = 2.0) -> bool:
    """Whether an HTTP GET of the path answers 200 within a time [s]."""
    connection = HTTPConnection(host, port, timeout=timeout_s)
    try:
        connection.request("GET", path)
        return connection.getresponse().status == 200
    except (OSError, HTTPException):
        return False
    finally:
        connection.close()


def wait_until(condition: Callable[[], bool], *, within_s: float, still_hopeful: Callable[[], bool]) -> bool:
    """Poll a condition until it holds.

    Parameters
    ----------
    condition : Callable[[], bool]
        What is waited for.
    within_s : float
        Give up after this time [s].
    still_hopeful : Callable[[], bool]
        Ends the wait early when it turns false (the child died, somebody pressed Ctrl-C).
    """
    deadline = time.monotonic() + within_s
    while time.monotonic() < deadline and still_hopeful():
        if condition():
            return True
        time.sleep(0.05)
    return False
