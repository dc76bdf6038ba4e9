"""Send one message to one target: pinned address, no redirects, bounded time and answer."""

import contextlib
import socket
import threading
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any
from urllib.parse import urlsplit

import requests
from requests.adapters import HTTPAdapter

from service.outbound.addresses import AddressPolicy, ForbiddenTarget, Resolver, Target, system_resolver
from service.outbound.backoff import retry_after

_EXCERPT_BYTES = 512
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
        started = time.monotonic()
        try:
            target = self.policy.target(url, self.resolve)
            outcome = self._post(target, headers, body)
        except ForbiddenTarget as error:
            outcome = Outcome(None, f"forbidden target: {error}")
        except (requests.RequestException, OSError) as error:
            outcome = Outcome(None, _brief(error))
        return Outcome(
            outcome.status,
            outcome.error,
            outcome.retry_after,
            time.monotonic() - started,
            outcome.excerpt,
        )

    def _post(self, target: Target, headers: Mapping[str, str], body: bytes) -> Outcome:
        adapter = _PinnedAdapter(target)
        deadline = threading.Timer(self.total_timeout_s, adapter.abort)
        deadline.daemon = True
        deadline.start()
        try:
            with requests.Session() as session:
                session.trust_env = False
                session.mount(f"{target.url.partition(':')[0]}://", adapter)
                with session.post(
                    target.url,
                    data=body,
                    headers={
                        "User-Agent": "Heelmark-Webhooks",
                        **headers,
                        "Host": urlsplit(target.url).netloc,
                    },
                    timeout=(self.connect_timeout_s, self.total_timeout_s),
                    allow_redirects=False,
                    stream=True,
                ) as answer:
                    outcome = self._outcome(answer)
                    if adapter.aborted:  # an answer cut in its headers reads like one that ended there
                        raise TimeoutError(f"no complete answer within {self.total_timeout_s:g} s")
                    return outcome
        finally:
            deadline.cancel()

    def _outcome(self, answer: requests.Response) -> Outcome:
        accepted = 200 <= answer.status_code < 300
        return Outcome(
            answer.status_code,
            None if accepted else f"answered {answer.status_code}",
            retry_after(answer.headers, self.now()),
            excerpt=(answer.raw.read(_EXCERPT_BYTES) or b"").decode("utf-8", "replace"),
        )


def _brief(error: Exception) -> str:
    """Class and innermost cause, without object addresses."""
    cause: BaseException = error
    while (inner := cause.__cause__ or cause.__context__) is not None:
        cause = inner
    return f"{type(error).__name__}: {cause}"[:200]
