"""The headers of answers, as the OpenAPI document describes them."""

from collections.abc import Iterable

from flask_smorest import Api

from service.api.http.json_types import JsonObject

TEXT = {"type": "string"}
EVERYWHERE: dict[str, JsonObject] = {
    "RateLimit-Policy": {
        "description": (
            'The limit that applies, by draft-ietf-httpapi-ratelimit-headers-10: `"requests"` of a valid token, '
            '`"failures"` of an address without one; `q` requests in `w` seconds.'
        ),
        "schema": TEXT,
        "example": '"requests";q=3000;w=60',
    },
    "RateLimit": {
        "description": "What is left of it: `r` requests until the window ends in `t` seconds.",
        "schema": TEXT,
        "example": '"requests";r=2994;t=42',
    },
    "X-Request-ID": {"description": "Names this request in the service's log.", "schema": TEXT},
    "Cache-Control": {
        "description": "Who may keep the answer; nobody, unless it has an ETag.",
        "schema": TEXT,
    },
    "Content-Security-Policy": {
        "description": "An answer is no page: a browser runs nothing of it.",
        "schema": TEXT,
    },
    "X-Content-Type-Options": {"description": "Always `nosniff`.", "schema": TEXT},
    "X-Frame-Options": {"description": "Always `DENY`.", "schema": TEXT},
    "Referrer-Policy": {"description": "Always `no-referrer`.", "schema": TEXT},
    "Cross-Origin-Resource-Policy": {"description": "Always `same-origin`.", "schema": TEXT},
    "Strict-Transport-Security": {"description": "Where people use TLS.", "schema": TEXT},
}
SOMETIMES: dict[str, JsonObject] = {
    "ETag": {"description": "Version of what was read: for `If-None-Match` and `If-Match`.", "schema": TEXT},
    "Location": {"description": "Where what was made is.", "schema": TEXT},
    "Idempotency-Replayed": {
        "description": "`true` when this key has been answered before: nothing was done again.",
        "schema": TEXT,
    },
    "Content-Disposition": {"description": "Name for the file.", "schema": TEXT},
    "Vary": {"description": "What the answer depends on.", "schema": TEXT},
    "X-Accel-Buffering": {"description": "`no`: a proxy passes the stream on at once.", "schema": TEXT},
}
"""Of answers that are no refusal."""
REFUSALS: dict[str, JsonObject] = {
    "Retry-After": {"description": "Seconds to wait, with 429 and 503.", "schema": {"type": "integer"}},
    "WWW-Authenticate": {"description": "With 401: `Bearer`.", "schema": TEXT},
    "Allow": {"description": "With 405: the methods that there are.", "schema": TEXT},
}


def describe(api: Api) -> None:
    """Add the headers to every response of the document."""
    for name, header in (EVERYWHERE | SOMETIMES | REFUSALS).items():
        api.spec.components.headers[name] = header
    answers, refusals = _references(EVERYWHERE | SOMETIMES), _references(EVERYWHERE | REFUSALS)
    for path, operations in api.spec._paths.items():
        for method, operation in operations.items():
            if path.startswith("/api/") and method != "parameters":
                for response in operation.get("responses", {}).values():
                    if isinstance(response, dict) and "$ref" not in response:
                        response["headers"] = answers
    for response in api.spec.components.responses.values():
        response["headers"] = refusals


def _references(names: Iterable[str]) -> JsonObject:
    return {name: {"$ref": f"#/components/headers/{name}"} for name in names}
