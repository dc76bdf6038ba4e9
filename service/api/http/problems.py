"""Problem details (RFC 9457): one table from what went wrong to what the client is told."""

from collections.abc import Iterable, Mapping
from dataclasses import asdict
from http import HTTPStatus
from typing import Any, NotRequired, TypedDict, cast

import structlog
from flask import Flask, Response, json, request
from werkzeug.exceptions import HTTPException

from service.operations.support.errors import (
    Conflict,
    Invalid,
    KeyReused,
    NotAllowed,
    NotFound,
    OperationError,
    StaleVersion,
    Unavailable,
)
from service.problem_types import PROBLEM_TYPES
from service.refrigerants.catalogue import UnknownRefrigerant
from service.refrigerants.curves import OutOfRange
from service.store.database import UNAVAILABLE

PROBLEM_TYPE = "application/problem+json"


class Fault(TypedDict):
    """One entry of a problem's ``errors``."""

    field: str
    value: NotRequired[object]
    expected: str


REFUSALS: Mapping[type[Exception], tuple[int, str]] = {
    NotFound: (404, "not-found"),
    UnknownRefrigerant: (404, "not-found"),
    Conflict: (409, "conflict"),
    StaleVersion: (412, "stale"),
    NotAllowed: (403, "forbidden"),
    KeyReused: (422, "idempotency-key-reused"),
    Invalid: (422, "validation"),
    Unavailable: (503, "unavailable"),
    OutOfRange: (422, "out-of-range"),
}
"""Exception to status and slug; the slug is the stable part that clients may rely on."""

RETRY_AFTER_S = 10

STATUS_SLUGS = {
    400: "malformed",
    401: "unauthorized",
    403: "forbidden",
    404: "not-found",
    405: "method-not-allowed",
    409: "conflict",
    412: "stale",
    413: "too-large",
    415: "unsupported-media-type",
    422: "validation",
    428: "precondition-required",
    429: "too-many-requests",
    503: "unavailable",
}

log = structlog.get_logger(__name__)


def problem(
    status: int,
    detail: str,
    *,
    slug: str | None = None,
    headers: Iterable[tuple[str, str]] = (),
    **members: Any,
) -> Response:
    """
    A problem as a response.

    Parameters
    ----------
    status
        HTTP status.
    detail
        What happened this time, in a sentence.
    slug
        Of ``PROBLEM_TYPES``; by the status unless given.
    headers
        Further headers.
    members
        Extension members such as ``errors`` or ``reasons``.

    Returns
    -------
    flask.Response
        ``application/problem+json``.
    """
    body = {
        "type": PROBLEM_TYPES[slug or STATUS_SLUGS.get(status, "error")].uri,
        "title": HTTPStatus(status).phrase,
        "status": status,
        "detail": detail,
        "instance": request.path,
        **members,
    }
    response = Response(json.dumps(body), status=status, content_type=PROBLEM_TYPE)
    response.headers.extend(dict(headers))
    return response


def from_refusal(error: Exception) -> Response:
    """The answer to a use case that refused."""
    for kind, (status, slug) in REFUSALS.items():
        if isinstance(error, kind):
            retry = [("Retry-After", str(error.retry_after_s))] if isinstance(error, Unavailable) else []
            return problem(status, str(error), slug=slug, headers=retry, **_members(error))
    return problem(400, str(error), slug="refused")


def from_http(error: HTTPException) -> Response:
    """The answer to what Flask, the router or the argument parser refused."""
    status = error.code or 500
    if status < 400:
        return error.get_response()  # type: ignore[return-value]
    told: Mapping[str, Any] = getattr(error, "data", None) or {}
    headers = [
        (k, v) for k, v in error.get_headers() if k.lower() in {"allow", "retry-after", "www-authenticate"}
    ]
    if "messages" in told:
        errors = [*flattened(told["messages"])]
        return problem(status, _summary(errors, error), headers=headers, errors=errors)
    return problem(status, error.description or HTTPStatus(status).phrase, headers=headers)


def from_bug(error: Exception) -> Response:
    """The answer to a fault of our own: nothing of it is shown, all of it is logged."""
    log.error("request failed", path=request.path, method=request.method, exc_info=error)
    return problem(500, "The service failed; the operator finds the cause in its log.", slug="internal")


def from_unavailable(error: Exception) -> Response:
    """The answer while the database cannot be read or written: nothing was kept, and the same may be sent again."""
    cause = getattr(error, "orig", None) or error
    log.warning("database unavailable", path=request.path, cause=f"{type(cause).__name__}: {cause}"[:200])
    return problem(
        503,
        "The database cannot be used at this moment; nothing was kept. Send the same again later.",
        headers=[("Retry-After", str(RETRY_AFTER_S))],
    )


def register(app: Flask) -> None:
    """Answer every error of the application as a problem."""
    app.register_error_handler(HTTPException, from_http)
    for unavailable in UNAVAILABLE:
        app.register_error_handler(unavailable, from_unavailable)
    for kind in (OperationError, UnknownRefrigerant, OutOfRange):
        app.register_error_handler(kind, from_refusal)
    app.register_error_handler(Exception, from_bug)


def _members(error: Exception) -> Mapping[str, object]:
    if isinstance(error, Invalid):
        return {"errors": [asdict(fault) for fault in error.errors]}
    if isinstance(error, Conflict):
        return {"reasons": [asdict(reason) for reason in error.reasons]}
    return {}


def flattened(messages: Any, path: str = "") -> Iterable[Fault]:
    """Marshmallow's nested messages as one list; a message may be a ready dict with value and expectation."""
    if isinstance(messages, Mapping) and "expected" in messages:
        yield cast("Fault", {"field": path, **messages})
    elif isinstance(messages, Mapping):
        for key, inner in messages.items():
            at_top = path == "" and key in {"json", "query", "headers", "path"}
            name = path if at_top or key == "_schema" else f"{path}.{key}".lstrip(".")
            yield from flattened(inner, name)
    elif isinstance(messages, list):
        for inner in messages:
            yield from flattened(inner, path)
    else:
        yield {"field": path, "expected": str(messages)}


def _summary(errors: list[Fault], error: HTTPException) -> str:
    if not errors:
        return error.description or "The request is not valid."
    first = errors[0]
    where = f"{first['field']}: " if first["field"] else ""
    more = f" ({len(errors) - 1} more)" if len(errors) > 1 else ""
    return (
        f"{where}expected {first['expected']}{more}"
        if "value" in first
        else f"{where}{first['expected']}{more}"
    )
