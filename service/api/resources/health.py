"""``/healthz`` and ``/readyz``: is the process alive, is the installation doing its job."""

import threading
import time

from flask import Blueprint, Response, current_app, jsonify, request

from service.api.http.auth import is_insider
from service.api.http.current import services
from service.operations import health
from service.operations.health import Check

KEPT_S = 1.0
"""Whoever asks more often is told the same, at no cost."""
EXTENSION = "heelmark-health"

blueprint = Blueprint("health", __name__)


@blueprint.get("/healthz")
def healthz() -> Response:
    """Alive: the process answers."""
    return jsonify(status="alive")


@blueprint.get("/readyz")
def readyz() -> tuple[Response, int]:
    """
    Ready: the database has the schema that this code knows and can be written, processes run, events leave.

    With ``part=serving`` only what a request of this process depends on counts: a dead worker is no reason to
    take the process out of service. Names of places and causes are told to insiders alone.
    """
    checks = _looked()
    counted = [c for c in checks if c.serving] if request.args.get("part") == "serving" else checks
    ready = all(check.healthy for check in counted)
    insider = is_insider()
    told = [{"check": c.name, "healthy": c.healthy, "text": _text(c, insider)} for c in checks]
    return jsonify(status="ready" if ready else "not-ready", checks=told), 200 if ready else 503


def _text(check: Check, insider: bool) -> str:
    return f"{check.text}: {check.detail}" if insider and check.detail else check.text


class _Looked:
    """The last look, and who is looking now."""

    def __init__(self) -> None:
        self.turn = threading.Lock()
        self.at = float("-inf")
        self.checks: list[Check] = []


def _looked() -> list[Check]:
    last: _Looked = current_app.extensions.setdefault(EXTENSION, _Looked())
    with last.turn:
        if time.monotonic() - last.at > KEPT_S:
            last.checks = health.checks(services())
            last.at = time.monotonic()
        return last.checks
