"""``/healthz`` and ``/readyz``: is the process alive, can it do its work."""

import sqlalchemy as sa
from flask import Blueprint, Response, jsonify
from sqlalchemy.exc import SQLAlchemyError

from service.api.current import services
from service.api.problems import problem
from service.store.migrate import at_head

blueprint = Blueprint("health", __name__)


@blueprint.get("/healthz")
def healthz() -> Response:
    """Alive: the process answers."""
    return jsonify(status="alive")


@blueprint.get("/readyz")
def readyz() -> Response:
    """Ready: the database answers and has the schema that this code knows."""
    database = services().database
    try:
        with database.engine.connect() as connection:
            connection.execute(sa.text("SELECT 1"))
        if not at_head(database.engine):
            return problem(
                503, "The database lacks a migration; run `heelmark migrate`.", slug="not-migrated"
            )
    except SQLAlchemyError:
        return problem(503, "The database does not answer.", slug="database-away")
    return jsonify(status="ready")
