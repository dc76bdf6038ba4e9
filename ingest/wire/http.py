"""The service's side of the worker: hookups in, pairs and live values out, over HTTP."""

from __future__ import annotations

import threading
from dataclasses import dataclass
from typing import Any

import requests
import structlog

from ingest.wire.hookup import Hookup, hookups_of
from ingest.wire.mapping import MessageMapping, kept_mappings
from ingest.wire.retry import Decision, Parcel, decide

log = structlog.get_logger(__name__)

CONNECT_S, READ_S = 3.0, 15.0


@dataclass(frozen=True, slots=True)
class Hookups:
    """An answer of `GET /hookups`: the items as they came, parsed, and their tag."""

    items: list[dict[str, Any]]
    etag: str | None

    def of_places(self, places: tuple[str, ...]) -> Hookups:
        """Return those of the places that a worker owns; no places means all."""
        if not places:
            return self
        return Hookups([item for item in self.items if item.get("place") in places], self.etag)

    def parsed(self) -> list[Hookup]:
        """Return the hookups; an item of an unknown shape is left out and logged."""
        hookups, faults = hookups_of(self.items)
        for fault in faults:
            log.error("a hookup of the service cannot be read", fault=fault)
        return hookups


@dataclass(frozen=True, slots=True)
class Mappings:
    """An answer of `GET /mappings`: the items as they came, and their tag."""

    items: list[dict[str, Any]]
    etag: str | None

    def parsed(self, root: str) -> tuple[list[MessageMapping], list[str]]:
        """Return the mappings, and what is wrong with each that cannot be read by."""
        return kept_mappings(self.items, root)


class Service:
    """HTTP client of the service; each thread has a connection of its own.

    Parameters
    ----------
    url : str
        Address of the service.
    token : str
        Bearer token with the worker's scope.
    """

    def __init__(self, url: str, token: str) -> None:
        self.base = url.rstrip("/") + "/api/v1"
        self.token = token
        self._local = threading.local()

    def _session(self) -> requests.Session:
        session: requests.Session | None = getattr(self._local, "session", None)
        if session is None:
            session = requests.Session()
            session.headers["Authorization"] = f"Bearer {self.token}"
            session.trust_env = False
            self._local.session = session
        return session

    def hookups(self, etag: str | None) -> Hookups | None:
        """Return the active hookups, or None if they are as they were; raises requests.RequestException."""
        found = self._listed("hookups?active=true&limit=200", etag)
        return None if found is None else Hookups(*found)

    def mappings(self, etag: str | None) -> Mappings | None:
        """Return the mappings kept by the service, or None if they are as they were, or it keeps none yet.

        Raises requests.RequestException.
        """
        try:
            found = self._listed("mappings?limit=200", etag)
        except requests.HTTPError as error:
            if error.response is not None and error.response.status_code == requests.codes.not_found:
                # A service of the version before.
                return None
            raise
        return None if found is None else Mappings(*found)

    def _listed(self, query: str, etag: str | None) -> tuple[list[dict[str, Any]], str | None] | None:
        """Return all pages of a list with the tag of it all, or None if nothing has changed."""
        items: list[dict[str, Any]] = []
        url: str | None = f"{self.base}/{query}"
        tag, paged = None, False
        while url:
            headers = {"If-None-Match": etag} if etag and not items else {}
            answer = self._session().get(url, headers=headers, timeout=(CONNECT_S, READ_S))
            if answer.status_code == requests.codes.not_modified:
                return None
            answer.raise_for_status()
            body = answer.json()
            items += body["items"]
            tag = tag or answer.headers.get("ETag")
            following = body.get("next")
            url = _next(self.base, query, str(following)) if following else None
            paged = paged or url is not None
        # The tag of a first page says nothing of the pages after it.
        return items, None if paged else tag

    def post_pair(self, parcel: Parcel, spread: float) -> Decision:
        """Post one pair; never raises for what the network or the service does."""
        try:
            answer = self._session().post(
                f"{self.base}/equilibrium-pairs",
                data=parcel.body.encode(),
                headers={"Content-Type": "application/json", "Idempotency-Key": parcel.key},
                timeout=(CONNECT_S, READ_S),
            )
        except requests.RequestException as error:
            return decide(None, parcel.attempts, str(error), spread)
        text = f"{answer.status_code} {answer.text[:400]}"
        wait_s = _retry_after(answer)
        return decide(answer.status_code, parcel.attempts, text, spread, wait_s, refusals=parcel.refusals)

    def put_live(self, body: dict[str, Any]) -> list[dict[str, Any]] | None:
        """Tell the live values; returns the values that the service refused, or None if it took nothing."""
        try:
            answer = self._session().put(f"{self.base}/live", json=body, timeout=(CONNECT_S, READ_S))
        except requests.RequestException:
            return None
        if not answer.ok:
            log.warning("live values refused", status=answer.status_code, answer=answer.text[:200])
            return None
        refused = _refused(answer)
        if refused:
            log.warning("some live values refused", count=len(refused), first=refused[0])
        return refused


def _refused(answer: requests.Response) -> list[dict[str, Any]]:
    """Return what the service says that it did not take; one that says nothing took everything."""
    try:
        told = answer.json()["refused"] if answer.content else []
    except (ValueError, KeyError, TypeError):
        return []
    return told if isinstance(told, list) else []


def _next(base: str, query: str, following: str) -> str:
    if following.startswith("http"):
        return following
    if following.startswith("/"):
        return base.removesuffix("/api/v1") + following
    return f"{base}/{query}&after={following}"


def _retry_after(answer: requests.Response) -> float | None:
    text = answer.headers.get("Retry-After", "")
    return float(text) if text.isdigit() else None
