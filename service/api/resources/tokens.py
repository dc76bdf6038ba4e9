"""``/tokens``: issue, list and revoke bearer tokens."""

from flask.views import MethodView

from service.api.http import examples
from service.api.http.answers import Listed
from service.api.http.auth import requires
from service.api.http.current import actor, services
from service.api.http.document import Blueprint
from service.api.schemas.common import ID
from service.api.schemas.others import MadeTokenSchema, NewTokenSchema, TokenBody, TokenListSchema
from service.operations import tokens
from service.operations.tokens import NewToken
from service.store.tokens import Token

blueprint = Blueprint("tokens", __name__, description="Bearer tokens of machines")


@blueprint.route("/tokens")
class Tokens(MethodView):
    """Every token."""

    @requires("administrator")
    @blueprint.response(200, TokenListSchema)
    def get(self) -> Listed[Token]:
        """List tokens with their last use, without secrets."""
        return Listed(tokens.listed(services(), actor()))

    @requires("administrator")
    @blueprint.arguments(NewTokenSchema, example=examples.TOKEN)
    @blueprint.response(201, MadeTokenSchema)
    def post(self, body: TokenBody) -> NewToken:
        """Make a token; its secret is told this once."""
        return tokens.create(
            services(),
            actor(),
            name=body.name,
            scope=body.scope,
            expires_at=body.expires_at,
            places=body.places,
        )


@blueprint.route(f"/tokens/<{ID}:token_id>")
class OneToken(MethodView):
    """One token."""

    @requires("administrator")
    @blueprint.response(204)
    def delete(self, token_id: int) -> None:
        """Make a token useless at once."""
        tokens.revoke(services(), actor(), token_id)
