"""Bearer tokens and what each scope may do."""

from collections.abc import Callable
from copy import deepcopy
from functools import wraps
from ipaddress import ip_address
from typing import Any, TypeVar

from flask import Response, g, request
from flask_httpauth import HTTPTokenAuth

from service.api.http.current import settings
from service.api.http.problems import problem
from service.api.http.rate_limits import bearer_of
from service.operations.support.context import Actor

V = TypeVar("V", bound=Callable[..., Any])

GRANTS = {
    "worker": ("worker",),
    "gateway": ("gateway",),
    "reader": ("reader", "technician", "supervisor", "administrator"),
    "technician": ("technician", "supervisor", "administrator"),
    "supervisor": ("supervisor", "administrator"),
    "administrator": ("administrator",),
}
"""What a route asks for, and the scopes that have it."""

bearer = HTTPTokenAuth(scheme="Bearer", realm="heelmark")


@bearer.verify_token
def _verify(_secret: str | None) -> Actor | None:
    found = bearer_of()
    if found is not None:
        g.actor = found
    return found


@bearer.get_user_roles
def _roles(actor: Actor) -> str:
    return actor.scope


@bearer.error_handler
def _refuse(status: int) -> Response:
    if status == 401:
        return problem(401, "A valid bearer token is needed: it is missing, unknown, expired or revoked.")
    return problem(403, f"The scope {g.actor.scope!r} of this token may not do that.")


def is_insider() -> bool:
    """Whether who asks may hear of places: with a token, on this machine, or inside, past the trusted proxies."""
    proxied = "X-Forwarded-For" in request.headers
    if settings().trusted_proxies:
        return not proxied or bearer_of() is not None
    try:
        here = ip_address(request.remote_addr or "").is_loopback
    except ValueError:
        here = False
    return here or bearer_of() is not None


def requires(*needs: str) -> Callable[[V], V]:
    """Let only tokens in that have one of these scopes (or a higher one); documented with the operation."""
    granted = sorted({scope for need in needs for scope in GRANTS[need]})

    def decorate(view: V) -> V:
        guarded = bearer.login_required(role=granted)(view)

        @wraps(view)
        def wrapper(*args: Any, **kwargs: Any) -> Any:
            return guarded(*args, **kwargs)

        apidoc = deepcopy(getattr(view, "_apidoc", {}))
        manual = apidoc.setdefault("manual_doc", {})
        manual["security"] = [{"bearer": []}]
        manual["x-scopes"] = granted
        wrapper._apidoc = apidoc  # type: ignore[attr-defined]
        return wrapper  # type: ignore[return-value]

    return decorate
