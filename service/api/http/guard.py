"""What stands before every request: where it comes from, what browsers may do, one line in the log."""

import re
import time
from secrets import token_hex

import structlog
from flask import Flask, Response, current_app, g, request
from werkzeug.middleware.proxy_fix import ProxyFix

from service.api.http import rate_limits
from service.settings import Settings

REQUEST_ID = re.compile(r"[A-Za-z0-9._-]{8,64}")
HEADERS = {
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Content-Security-Policy": "default-src 'none'; frame-ancestors 'none'",
}
"""What an answer does not say otherwise; the board's pages say more of their own."""
QUIET = ("/healthz", "/readyz", "/metrics")

log = structlog.get_logger("request")


def register(app: Flask, settings: Settings) -> None:
    """Guard every request of an application."""
    if settings.trusted_proxies:
        hops = settings.trusted_proxies
        app.wsgi_app = ProxyFix(app.wsgi_app, x_for=hops, x_proto=hops, x_host=hops)  # type: ignore[method-assign]
    app.before_request(_begin)
    app.after_request(_end)
    app.config["HEELMARK_TRANSPORT_SECURITY"] = settings.secure_cookies
    app.config["HEELMARK_BELIEVE_REQUEST_ID"] = settings.trusted_proxies > 0
    rate_limits.register(app, settings)


def _begin() -> None:
    given = request.headers.get("X-Request-ID", "")
    believed = current_app.config["HEELMARK_BELIEVE_REQUEST_ID"] and REQUEST_ID.fullmatch(given)
    g.request_id = given if believed else token_hex(8)
    g.request_began = time.perf_counter()
    structlog.contextvars.clear_contextvars()
    structlog.contextvars.bind_contextvars(request_id=g.request_id)


def _end(response: Response) -> Response:
    for name, value in HEADERS.items():
        response.headers.setdefault(name, value)
    if request.path.startswith("/api/"):
        response.headers.setdefault("Cache-Control", "no-store")
    if current_app.config["HEELMARK_TRANSPORT_SECURITY"]:
        response.headers.setdefault("Strict-Transport-Security", "max-age=63072000")
    response.headers["X-Request-ID"] = g.get("request_id", "")
    if request.path not in QUIET:
        _tell(response)
    return response


def _tell(response: Response) -> None:
    """One line a request: by what it was, never with what it carried."""
    who = g.get("actor")
    milliseconds = 1000 * (time.perf_counter() - g.get("request_began", time.perf_counter()))
    log.info(
        "request.answered",
        method=request.method,
        route=request.url_rule.rule if request.url_rule else None,
        status=response.status_code,
        ms=round(milliseconds, 1),
        actor=who.name if who else None,
        organisation=who.organisation_id if who else None,
        address=request.remote_addr,
        **{f"path_{name}": value for name, value in (request.view_args or {}).items()},
    )
