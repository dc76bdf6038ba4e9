"""``/api/v1/asyncapi.yaml``: what gateways publish and what fleet systems hear from this version of the service."""

from functools import cache
from importlib.resources import files

from flask import Blueprint, Response, request

blueprint = Blueprint("asyncapi", __name__)


@cache
def _document() -> bytes:
    return (files("service.api.http") / "data" / "asyncapi.yaml").read_bytes()


@blueprint.get("/api/v1/asyncapi.yaml")
def asyncapi() -> Response:
    """Serve the document (YAML by RFC 9512); nobody needs a token to read it."""
    response = Response(_document(), mimetype="application/yaml")
    response.add_etag()
    response.headers["Cache-Control"] = "public, no-cache"
    response.make_conditional(request)
    return response
