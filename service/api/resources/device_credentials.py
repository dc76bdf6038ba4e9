"""``/device-credentials``: a user at the MQTT broker for every device."""

from flask.views import MethodView

from service.api.http import examples
from service.api.http.answers import Listed, page_of, rows
from service.api.http.auth import requires
from service.api.http.current import actor, services
from service.api.http.document import Blueprint
from service.api.schemas import device_credentials as schemas
from service.api.schemas.common import ID
from service.operations import device_credentials
from service.operations.device_credentials import WithPassword
from service.store.credentials import Credential

blueprint = Blueprint("device-credentials", __name__, description="Users of devices at the MQTT broker")


@blueprint.route("/device-credentials")
class Credentials(MethodView):
    """Every credential."""

    @requires("supervisor")
    @blueprint.arguments(schemas.CredentialArgs, location="query")
    @blueprint.response(200, page_of(schemas.CredentialSchema))
    def get(self, args: schemas.CredentialQuery) -> Listed[Credential]:
        """List credentials, valid and revoked, newest first."""
        return rows(device_credentials.listed(services(), actor(), args.page, device=args.device))

    @requires("supervisor")
    @blueprint.arguments(schemas.NewCredentialSchema, example=examples.DEVICE_CREDENTIAL)
    @blueprint.response(201, schemas.CredentialWithPasswordSchema)
    def post(self, body: schemas.NewCredential) -> WithPassword:
        """Give a device its own broker user, which can publish its own readings alone; told this once."""
        return device_credentials.issue(services(), actor(), device=body.device, place=body.place)


@blueprint.route(f"/device-credentials/<{ID}:credential_id>")
class OneCredential(MethodView):
    """One credential."""

    @requires("supervisor")
    @blueprint.response(204)
    def delete(self, credential_id: int) -> None:
        """Put a device out of the broker; a stolen one is worth nothing from then on."""
        device_credentials.revoke(services(), actor(), credential_id)
