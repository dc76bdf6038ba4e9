"""Send messages to one target: pinned address, kept connection, no redirects, bounded time and answer."""

from __future__ import annotations

import contextlib
import socket
import threading
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from typing import Any
from urllib.parse import urlsplit

import requests
from requests.adapters import HTTPAdapter
from urllib3.exceptions import HTTPError

from service.outbound.addresses import AddressPolicy, ForbiddenTarget, Resolver, Target, system_resolver
from service.outbound.backoff import retry_after

_EXCERPT_BYTES = 512
_DRAINED_BYTES = 16_384
_GONE = 410


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of one attempt; ``status`` is None when no answer came."""

    status: int | None
    error: str | None = None
    retry_after: timedelta | None = None
    duration_s: float = 0.0
    excerpt: str = ""

    @property
    def accepted(self) -> bool:
        """Only 2xx is success; a redirect is a failure (Standard Webhooks)."""
        return self.status is not None and 200 <= self.status < 300

    @property
    def gone(self) -> bool:
        """The receiver says that this endpoint is no more and is to be disabled."""
        return self.status == _GONE


class _PinnedAdapter(HTTPAdapter):
    """Connects to the checked address while TLS and the Host header keep the name."""

    def __init__(self, target: Target) -> None:
        self._target = target
        self._connections: list[Any] = []
        self.aborted = False
        super().__init__(max_retries=0)

    def get_connection_with_tls_context(self, *args: Any, **kwargs: Any) -> Any:
        pool: Any = super().get_connection_with_tls_context(*args, **kwargs)
        make = pool.ConnectionCls

        def remembered(*a: Any, **k: Any) -> Any:
            self._connections.append(make(*a, **k))
            return self._connections[-1]

        pool.ConnectionCls = remembered
        return pool

    def abort(self) -> None:
        """Cut the connection from another thread; a receiver that drips bytes never meets a read timeout."""
        self.aborted = True
        for connection in self._connections:
            if connection.sock is not None:
                with contextlib.suppress(OSError):
                    socket.socket.shutdown(connection.sock, socket.SHUT_RDWR)

    def build_connection_pool_key_attributes(self, *args: Any, **kwargs: Any) -> tuple[Any, Any]:
        host: Any
        pool: Any
        host, pool = super().build_connection_pool_key_attributes(*args, **kwargs)
        host["host"] = self._target.address
        if host["scheme"] == "https":
            pool["server_hostname"] = pool["assert_hostname"] = self._target.host
        return host, pool


@dataclass(frozen=True, slots=True)
class Sender:
    """The edge to the network.

    Attributes
    ----------
    connect_timeout_s, total_timeout_s
        Bounds of one attempt [s]; Standard Webhooks suggests 15 to 30 s in all.
    """

    policy: AddressPolicy
    connect_timeout_s: float = 5.0
    total_timeout_s: float = 20.0
    resolve: Resolver = system_resolver
    now: Callable[[], datetime] = lambda: datetime.now(UTC)

    def send(self, url: str, headers: Mapping[str, str], body: bytes) -> Outcome:
        """POST once; every failure becomes an outcome, none is raised."""
        with self.line() as line:
            return line.send(url, headers, body)

    @contextmanager
    def line(self) -> Iterator[Line]:
        """A connection that is kept from one message to the next, and closed at the end of the block."""
        line = Line(self)
        try:
            yield line
        finally:
            line.close()


class Line:
    """
    A connection to one receiver that is kept while there is more to send.

    Parameters
    ----------
    sender
        Whose policy and bounds hold. The address is checked when the connection is opened, and the
        connection goes there as long as it lives.
    """

    def __init__(self, sender: Sender) -> None:
        self._sender = sender
        self._open: _Opened | None = None

    def send(self, url: str, headers: Mapping[str, str], body: bytes) -> Outcome:
        """POST once; every failure becomes an outcome, none is raised."""
        started = time.monotonic()
        try:
            outcome = self._posted(url, headers, body)
        except ForbiddenTarget as error:
            outcome = Outcome(None, f"forbidden target: {error}")
        except (requests.RequestException, HTTPError, OSError) as error:  # the body is read below requests
            outcome = Outcome(None, _brief(error))
        if outcome.status is None:
            self.close()
        return replace(outcome, duration_s=time.monotonic() - started)

    def close(self) -> None:
        """Let the connection go."""
        if self._open is not None:
            self._open.session.close()
        self._open = None

    def _posted(self, url: str, headers: Mapping[str, str], body: bytes) -> Outcome:
        is_kept = self._open is not None and self._open.url == url
        try:
            return self._post(self._to(url), headers, body)
        except requests.ConnectionError:
            if not is_kept or self._open is None or self._open.adapter.aborted:
                raise
        # The receiver closed a kept connection, which is no failure of it; a repeat carries the same id.
        self.close()
        return self._post(self._to(url), headers, body)

    def _to(self, url: str) -> _Opened:
        if self._open is None or self._open.url != url:
            self.close()
            target = self._sender.policy.target(url, self._sender.resolve)
            adapter, session = _PinnedAdapter(target), requests.Session()
            session.trust_env = False
            session.mount(f"{target.url.partition(':')[0]}://", adapter)
            self._open = _Opened(url, target, adapter, session)
        return self._open

    def _post(self, to: _Opened, headers: Mapping[str, str], body: bytes) -> Outcome:
        bounds = self._sender
        deadline = threading.Timer(bounds.total_timeout_s, to.adapter.abort)
        deadline.daemon = True
        deadline.start()
        own = {"User-Agent": "Heelmark-Webhooks", **headers, "Host": urlsplit(to.target.url).netloc}
        try:
            with to.session.post(
                to.target.url,
                data=body,
                headers=own,
                timeout=(bounds.connect_timeout_s, bounds.total_timeout_s),
                allow_redirects=False,
                stream=True,
            ) as answer:
                outcome = _outcome(answer, bounds.now())
                if to.adapter.aborted:  # an answer cut in its headers reads like one that ended there
                    raise TimeoutError(f"no complete answer within {bounds.total_timeout_s:g} s")
                return outcome
        finally:
            deadline.cancel()


@dataclass(frozen=True, slots=True)
class _Opened:
    """What is kept between two messages."""

    url: str
    target: Target
    adapter: _PinnedAdapter
    session: requests.Session


def _outcome(answer: requests.Response, now: datetime) -> Outcome:
    accepted = 200 <= answer.status_code < 300
    excerpt = answer.raw.read(_EXCERPT_BYTES) or b""
    # What is read to its end leaves the connection to the next message; what is longer closes it.
    answer.raw.read(_DRAINED_BYTES)
    return Outcome(
        answer.status_code,
        None if accepted else f"answered {answer.status_code}",
        retry_after(answer.headers, now),
        excerpt=excerpt.decode("utf-8", "replace"),
    )


def _brief(error: Exception) -> str:
    """Class and innermost cause, without object addresses."""
    cause: BaseException = error
    while (inner := cause.__cause__ or cause.__context__) is not None:
        cause = inner
    return f"{type(error).__name__}: {cause}"[:200]
