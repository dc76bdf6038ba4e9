"""Every noun's routes: a new blueprint is added to ``BLUEPRINTS``."""

from flask import Flask

from service.api.http import asyncapi, current, document, guard, metrics, problems, response_headers
from service.api.resources import (
    alarms,
    analyses,
    audit,
    care,
    cylinders,
    device_credentials,
    devices,
    events,
    exchanges,
    exports,
    filling,
    health,
    holds,
    hookups,
    imports,
    inspection,
    instructions,
    instruments,
    judgement,
    live,
    mappings,
    messages,
    organisation,
    pairs,
    paper,
    places,
    prices,
    recoveries,
    refrigerants,
    release,
    tokens,
    transfers,
    triage,
    verdicts,
    webhooks,
)
from service.operations.support.context import Services
from service.settings import Settings

BLUEPRINTS = (
    refrigerants.blueprint,
    verdicts.blueprint,
    pairs.blueprint,
    cylinders.blueprint,
    judgement.blueprint,
    transfers.blueprint,
    recoveries.blueprint,
    filling.blueprint,
    holds.blueprint,
    instructions.blueprint,
    exchanges.blueprint,
    inspection.blueprint,
    care.blueprint,
    analyses.blueprint,
    release.blueprint,
    paper.blueprint,
    prices.blueprint,
    triage.blueprint,
    organisation.blueprint,
    places.blueprint,
    hookups.blueprint,
    mappings.blueprint,
    messages.blueprint,
    devices.blueprint,
    instruments.blueprint,
    live.blueprint,
    alarms.blueprint,
    events.blueprint,
    tokens.blueprint,
    webhooks.blueprint,
    device_credentials.blueprint,
    audit.blueprint,
    imports.blueprint,
    exports.blueprint,
)


def register(app: Flask, services: Services, settings: Settings, version: str) -> None:
    """Serve the API, health and metrics from an application."""
    current.install(app, services, settings)
    guard.register(app, settings)
    problems.register(app)
    app.before_request(document.refuse_control_characters)
    metrics.register(app)
    app.register_blueprint(health.blueprint)
    app.register_blueprint(asyncapi.blueprint)
    api = document.make_api(app, version)
    for blueprint in BLUEPRINTS:
        api.register_blueprint(blueprint, url_prefix="/api/v1")
    document.name_operations(api)
    response_headers.describe(api)
