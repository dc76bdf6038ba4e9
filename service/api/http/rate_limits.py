"""How many requests there may be: of a token that is valid, and without one of an address."""

import time
from dataclasses import dataclass
from typing import cast

import structlog
from flask import Flask, Response, current_app, g, request
from limits import RateLimitItem, parse
from limits.errors import StorageError
from limits.storage import storage_from_string
from limits.strategies import FixedWindowRateLimiter

from service.api.http import limit_counts
from service.api.http.current import services
from service.api.http.problems import problem
from service.operations import tokens
from service.operations.support.context import Actor
from service.outbound.addresses import caller_key
from service.settings import Settings

EXTENSION = "heelmark-rate-limits"

log = structlog.get_logger(__name__)


@dataclass(frozen=True, slots=True)
class Policies:
    """The limits of an application: `requests` of a valid token, `failures` of an address without one."""

    requests: RateLimitItem
    failures: RateLimitItem
    counts: FixedWindowRateLimiter


@dataclass(frozen=True, slots=True)
class Applied:
    """The limit that applies to this request."""

    name: str
    item: RateLimitItem
    key: str


def register(app: Flask, settings: Settings) -> None:
    """Count the requests of an application."""
    uri = limit_counts.URI if settings.limit_storage == "memory://" else settings.limit_storage
    counts = FixedWindowRateLimiter(storage_from_string(uri, wrap_exceptions=True))
    app.extensions[EXTENSION] = Policies(parse(settings.request_limit), parse(settings.failure_limit), counts)
    app.before_request(_refuse_too_many)
    app.after_request(_tell_limit)


def bearer_secret() -> str:
    """The token that this request carries, or nothing."""
    kind, _, secret = request.headers.get("Authorization", "").partition(" ")
    return secret if kind.lower() == "bearer" else ""


def bearer_of() -> Actor | None:
    """Who carries the token of this request; none without a valid one. Looked up once a request."""
    if "bearer" not in g:
        secret = bearer_secret()
        g.bearer = tokens.actor_of(services(), secret) if secret else None
    found: Actor | None = g.bearer
    return found


def _policies() -> Policies:
    return cast(Policies, current_app.extensions[EXTENSION])


def _refuse_too_many() -> Response | None:
    """A valid token has its own limit, wherever it comes from; guesses of others at its address do not lock it out."""
    if not request.path.startswith("/api/"):
        return None
    policies = _policies()
    if bearer_of() is not None:
        applied = Applied("requests", policies.requests, f"token:{tokens.digest_of(bearer_secret())[:32]}")
        count = policies.counts.hit
    else:
        applied = Applied("failures", policies.failures, f"address:{caller_key(request.remote_addr)}")
        # Counted afterwards, and only if it was refused for want of a token.
        count = policies.counts.test
    try:
        allowed = count(applied.item, applied.key)
    except StorageError as fault:
        log.warning("request.not_counted", error=str(fault))
        return None
    g.applied = applied
    if allowed:
        return None
    _, reset_s = _left(applied)
    return problem(
        429,
        f"The limit of {applied.item} is reached; come back in {reset_s} s.",
        headers=[("Retry-After", str(reset_s))],
    )


def _left(applied: Applied) -> tuple[int, int]:
    reset, remaining = _policies().counts.get_window_stats(applied.item, applied.key)
    return max(0, remaining), max(1, round(reset - time.time()))


def _tell_limit(response: Response) -> Response:
    """State the limit that applies (draft-ietf-httpapi-ratelimit-headers-10)."""
    applied: Applied | None = g.get("applied")
    if applied is None:
        return response
    try:
        if applied.name == "failures" and response.status_code == 401:
            _policies().counts.hit(applied.item, applied.key)
        remaining, reset_s = _left(applied)
    except StorageError:
        return response
    quota, window_s = applied.item.amount, applied.item.get_expiry()
    response.headers["RateLimit-Policy"] = f'"{applied.name}";q={quota};w={window_s}'
    response.headers["RateLimit"] = f'"{applied.name}";r={remaining};t={reset_s}'
    return response
