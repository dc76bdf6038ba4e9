"""Bearer tokens and what each scope may do."""

from collections.abc import Callable, Sequence
from copy import deepcopy
from functools import wraps
from ipaddress import ip_address
from typing import Any, TypeVar

from flask import Response, g, request
from flask_httpauth import HTTPTokenAuth

from service.api.http.current import settings
from service.api.http.problems import problem
from service.api.http.rate_limits import bearer_of
from service.api.http.reach import keep_to_places
from service.operations.support.context import Actor

V = TypeVar("V", bound=Callable[..., Any])

GRANTS = {
    "worker": ("worker",),
    "events": ("events",),
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
        return not proxied or _knows_places()
    try:
        here = ip_address(request.remote_addr or "").is_loopback
    except ValueError:
        here = False
    return here or _knows_places()


def _knows_places() -> bool:
    """Whether a token came that is for the whole of the organisation."""
    found = bearer_of()
    return found is not None and found.places is None and found.scope != "events"


def requires(*needs: str, within: Sequence[str] | None = None, naming: str | None = None) -> Callable[[V], V]:
    """
    Let only tokens in that have one of these scopes (or a higher one); documented with the operation.

    Parameters
    ----------
    needs
        Keys of ``GRANTS``.
    within, naming
        How the route keeps to the places of a token that is bound to some (see ``keep_to_places``); a route
        that does not say so refuses such a token.
    """
    granted = sorted({scope for need in needs for scope in GRANTS[need]})

    def decorate(view: V) -> V:
        @wraps(view)
        def kept(*args: Any, **kwargs: Any) -> Any:
            keep_to_places(within, naming)
            return view(*args, **kwargs)

        guarded = bearer.login_required(role=granted)(kept)

        @wraps(view)
        def wrapper(*args: Any, **kwargs: Any) -> Any:
            return guarded(*args, **kwargs)

        apidoc = deepcopy(getattr(view, "_apidoc", {}))
        manual = apidoc.setdefault("manual_doc", {})
        manual["security"] = [{"bearer": []}]
        manual["x-scopes"] = granted
        manual["x-bound-tokens"] = within is not None
        wrapper._apidoc = apidoc  # type: ignore[attr-defined]
        return wrapper  # type: ignore[return-value]

    return decorate
