"""``/healthz`` and ``/readyz``: is the process alive, is the installation doing its job."""

from flask import Blueprint, Response, jsonify, request

from service.api.current import services
from service.operations import health

blueprint = Blueprint("health", __name__)


@blueprint.get("/healthz")
def healthz() -> Response:
    """Alive: the process answers."""
    return jsonify(status="alive")


@blueprint.get("/readyz")
def readyz() -> tuple[Response, int]:
    """
    Ready: the database has the schema that this code knows, workers speak, events leave.

    With ``part=serving`` only what a request of this process depends on counts: a dead worker is no reason to
    take the process out of service.
    """
    checks = health.checks(services())
    counted = [c for c in checks if c.serving] if request.args.get("part") == "serving" else checks
    ready = all(check.healthy for check in counted)
    told = [{"check": c.name, "healthy": c.healthy, "text": c.text} for c in checks]
    return jsonify(status="ready" if ready else "not-ready", checks=told), 200 if ready else 503
