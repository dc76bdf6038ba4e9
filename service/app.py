"""The Flask application: what is wired, what is served."""

from flask import Flask

from service import VERSION
from service.api import routes
from service.board.pages import bp as board
from service.operations.context import Services
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
    return app
