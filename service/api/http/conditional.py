"""ETags: ``304`` for what has not changed, ``412`` for an update of what has."""

import hashlib
from collections.abc import Callable
from copy import deepcopy
from functools import wraps
from typing import Any, TypeVar

from flask import Response, make_response, request

from service.api.http.json_types import JsonObject
from service.api.http.problems import problem

V = TypeVar("V", bound=Callable[..., Any])


IF_NONE_MATCH: JsonObject = {
    "in": "header",
    "name": "If-None-Match",
    "schema": {"type": "string"},
    "required": False,
    "description": "ETag of what the client has already: answers 304 while it is still that.",
}
IF_MATCH: JsonObject = {
    "in": "header",
    "name": "If-Match",
    "schema": {"type": "string"},
    "required": True,
    "description": "ETag of what was read: answers 412 when somebody changed it since.",
}


def version_tag(version: int) -> str:
    """The entity tag of a row's version."""
    return f'"{version}"'


def etagged(view: V) -> V:
    """Tag the answer by its bytes, and answer ``304`` to who has them already; goes outside ``response``."""

    @wraps(view)
    def wrapper(*args: Any, **kwargs: Any) -> Response:
        response: Response = make_response(view(*args, **kwargs))
        if response.status_code == 200:
            if "ETag" not in response.headers:
                response.set_etag(hashlib.sha256(response.get_data()).hexdigest()[:32])
            response.headers["Cache-Control"] = "private, no-cache"
            response.make_conditional(request)
        return response

    described: V = documented(wrapper, view, IF_NONE_MATCH, {"304": {"description": "Not modified"}})
    return described


def tagged_by(basis: Callable[[], str]) -> Callable[[V], V]:
    """
    Tag the answer by what it is made from, so that ``304`` costs no more than asking for that.

    A tag by bytes would be wrong for a list of several pages: the first page may stay while a later one changes.

    Parameters
    ----------
    basis
        Changes whenever any page of the list may have changed.
    """

    def decorate(view: V) -> V:
        @wraps(view)
        def wrapper(*args: Any, **kwargs: Any) -> Response:
            tag = hashlib.sha256(f"{basis()} {request.full_path}".encode()).hexdigest()[:32]
            asked = request.if_none_match
            # `*` is nobody's tag: such a request is judged like any other before it is answered.
            known = asked.contains(tag) and not asked.star_tag
            response: Response = Response(status=304) if known else make_response(view(*args, **kwargs))
            if response.status_code in {200, 304}:
                response.set_etag(tag)
                response.headers["Cache-Control"] = "private, no-cache"
                response.make_conditional(request)
            return response

        described: V = documented(wrapper, view, IF_NONE_MATCH, {"304": {"description": "Not modified"}})
        return described

    return decorate


def matches(version: int) -> bool:
    """Whether the request's ``If-Match`` names this version."""
    return request.if_match.contains(str(version))


def updates(view: V) -> V:
    """Demand ``If-Match``; the use case compares it under its lock. Goes outside ``arguments``."""

    @wraps(view)
    def wrapper(*args: Any, **kwargs: Any) -> Any:
        if "If-Match" not in request.headers:
            return problem(428, "An update takes If-Match with the ETag of what was read.")
        return view(*args, **kwargs)

    described: V = documented(wrapper, view, IF_MATCH, {})
    return described


def documented(wrapper: Any, view: Any, header: JsonObject, responses: JsonObject) -> Any:
    """Carry a view's documentation over to its wrapper, with one header parameter and some responses more."""
    apidoc = deepcopy(getattr(view, "_apidoc", {}))
    apidoc.setdefault("arguments", {}).setdefault("parameters", []).append(header)
    for status, response in responses.items():
        apidoc.setdefault("manual_doc", {}).setdefault("responses", {})[status] = response
    wrapper._apidoc = apidoc
    return wrapper
