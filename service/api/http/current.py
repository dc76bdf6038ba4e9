"""What a request works with: the wired services, the settings, and who asks."""

from typing import cast

from flask import Flask, current_app, g

from service.operations.support.context import Actor, Services
from service.settings import Settings

SERVICES = "heelmark"
SETTINGS = "heelmark-settings"


def install(app: Flask, services: Services, settings: Settings) -> None:
    """Make services and settings reachable from requests of this application."""
    app.extensions[SERVICES] = services
    app.extensions[SETTINGS] = settings


def services() -> Services:
    """The services of the running application."""
    return cast(Services, current_app.extensions[SERVICES])


def settings() -> Settings:
    """The settings of the running application."""
    return cast(Settings, current_app.extensions[SETTINGS])


def actor() -> Actor:
    """Who asks; set by authentication."""
    return cast(Actor, g.actor)
