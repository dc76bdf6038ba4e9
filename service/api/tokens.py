"""``/tokens``: issue, list and revoke bearer tokens."""

from dataclasses import asdict
from typing import Any

from flask.views import MethodView

from service.api import examples
from service.api.auth import requires
from service.api.current import actor, services
from service.api.document import Blueprint
from service.api.schemas.common import ID
from service.api.schemas.others import MadeTokenSchema, NewTokenSchema, TokenListSchema
from service.operations import tokens

blueprint = Blueprint("tokens", __name__, description="Bearer tokens of machines")


@blueprint.route("/tokens")
class Tokens(MethodView):
    """Every token."""

    @requires("administrator")
    @blueprint.response(200, TokenListSchema)
    def get(self) -> dict[str, Any]:
        """List tokens with their last use, without secrets."""
        return {"items": tokens.listed(services(), actor()), "next": None}

    @requires("administrator")
    @blueprint.arguments(NewTokenSchema, example=examples.TOKEN)
    @blueprint.response(201, MadeTokenSchema)
    def post(self, body: dict[str, Any]) -> dict[str, Any]:
        """Make a token; its secret is told this once."""
        made = tokens.create(services(), actor(), **body)
        return {**asdict(made.token), "secret": made.secret}


@blueprint.route(f"/tokens/<{ID}:token_id>")
class OneToken(MethodView):
    """One token."""

    @requires("administrator")
    @blueprint.response(204)
    def delete(self, token_id: int) -> None:
        """Make a token useless at once."""
        tokens.revoke(services(), actor(), token_id)
