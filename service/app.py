"""The Flask application: what is wired, what is served."""

from flask import Flask, request
from werkzeug.exceptions import HTTPException
from werkzeug.wrappers import Response

from service import VERSION
from service.api import routes
from service.api.http import problems
from service.board.blueprint import lost
from service.board.languages.environment import LanguageEnvironment
from service.board.pages import bp as board
from service.operations.support.context import Services
from service.settings import Settings


def create_app(settings: Settings, services: Services) -> Flask:
    """
    An application over wired services.

    Parameters
    ----------
    settings
        As read from the environment.
    services
        From ``service.wiring.wire``.

    Returns
    -------
    flask.Flask
        With the API and the board registered.
    """
    app = Flask("service", static_folder=None)
    app.jinja_environment = LanguageEnvironment
    app.config.update(
        SECRET_KEY=settings.secret_key,
        MAX_CONTENT_LENGTH=settings.body_limit,
        MAX_FORM_MEMORY_SIZE=settings.body_limit,
        SESSION_COOKIE_NAME="heelmark",
        SESSION_COOKIE_HTTPONLY=True,
        SESSION_COOKIE_SAMESITE="Strict",
        SESSION_COOKIE_SECURE=settings.secure_cookies,
    )
    app.json.sort_keys = False  # type: ignore[attr-defined]
    routes.register(app, services, settings, VERSION)
    app.register_blueprint(board)
    app.register_error_handler(404, _nothing_here)
    return app


def _nothing_here(error: HTTPException) -> Response:
    """A page for a browser, a problem for everything else."""
    wants_page = request.accept_mimetypes.best_match(["application/json", "text/html"]) == "text/html"
    return lost(error) if wants_page and not request.path.startswith("/api/") else problems.from_http(error)
