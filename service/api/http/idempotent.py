"""``Idempotency-Key``: a repeated write is done once; its answer is kept in the same transaction."""

import hashlib
from collections.abc import Callable
from functools import wraps
from typing import Any, TypeVar

from flask import Response, json, make_response, request

from service.api.http.conditional import documented
from service.api.http.current import actor, services
from service.api.http.fields import CONTROL
from service.api.http.json_types import JsonObject
from service.operations.support.errors import FieldError, Invalid, KeyReused
from service.store import idempotency

V = TypeVar("V", bound=Callable[..., Any])

KEPT_HEADERS = ("Content-Type", "Location", "ETag")
LONGEST_KEY = 200


def idempotent(view: V) -> V:
    """
    Take an ``Idempotency-Key``; goes outside ``arguments`` and inside ``requires``.

    A refusal is not kept: the same key may be tried again, and finds the world as it then is.
    """

    @wraps(view)
    def wrapper(*args: Any, **kwargs: Any) -> Response:
        key = request.headers.get("Idempotency-Key")
        if key is None:
            return make_response(view(*args, **kwargs))
        if not 1 <= len(key) <= LONGEST_KEY or CONTROL.search(key):
            raise Invalid(FieldError("Idempotency-Key", key[:40], f"1 to {LONGEST_KEY} characters"))
        digest = _digest()
        with services().database.writing(actor().organisation_id) as work:
            given = idempotency.claim(work, key, digest, services().now())
            if given is not None:
                return _again(key, digest, given)
            response = make_response(view(*args, **kwargs))
            kept = json.dumps(
                {name: response.headers[name] for name in KEPT_HEADERS if name in response.headers}
            )
            idempotency.answer(work, key, status=response.status_code, headers=kept, body=response.get_data())
            return response

    header: JsonObject = {
        "in": "header",
        "name": "Idempotency-Key",
        "schema": {"type": "string", "minLength": 1, "maxLength": LONGEST_KEY},
        "required": False,
        "description": "Made by the client; repeated with the same request it gets the first answer.",
    }
    described: V = documented(wrapper, view, header, {})
    return described


def _digest() -> str:
    parts = (request.method, request.full_path, request.get_data(cache=True).decode("utf-8", "replace"))
    return hashlib.sha256("\n".join(parts).encode()).hexdigest()


def _again(key: str, digest: str, given: idempotency.Given) -> Response:
    if given.digest != digest or given.status is None:
        raise KeyReused(key)
    response = Response(given.body or b"", status=given.status)
    response.headers.update(json.loads(given.headers or "{}"))
    response.headers["Idempotency-Replayed"] = "true"
    return response
