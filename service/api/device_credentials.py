"""``/device-credentials``: a user at the MQTT broker for every device."""

from dataclasses import asdict
from typing import Any

from flask.views import MethodView

from service.api import examples
from service.api.auth import requires
from service.api.current import actor, services
from service.api.document import Blueprint
from service.api.paging import answer, page_of, request_of
from service.api.schemas import device_credentials as schemas
from service.api.schemas.common import ID
from service.operations import device_credentials
from service.outbound.broker_access import ANY_DEVICE
from service.store.credentials import Credential

blueprint = Blueprint("device-credentials", __name__, description="Users of devices at the MQTT broker")


@blueprint.route("/device-credentials")
class Credentials(MethodView):
    """Every credential."""

    @requires("supervisor")
    @blueprint.arguments(schemas.CredentialArgs, location="query")
    @blueprint.response(200, page_of(schemas.CredentialSchema))
    def get(self, args: dict[str, Any]) -> dict[str, Any]:
        """List credentials, valid and revoked, newest first."""
        request = request_of(args)
        return answer(device_credentials.listed(services(), actor(), request, device=args["device"]), shown)

    @requires("supervisor")
    @blueprint.arguments(schemas.NewCredentialSchema, example=examples.DEVICE_CREDENTIAL)
    @blueprint.response(201, schemas.CredentialWithPasswordSchema)
    def post(self, body: dict[str, Any]) -> dict[str, Any]:
        """Give a device its own broker user, which can publish its own readings alone; told this once."""
        made = device_credentials.issue(services(), actor(), **body)
        return {**shown(made.credential), "password": made.password}


@blueprint.route(f"/device-credentials/<{ID}:credential_id>")
class OneCredential(MethodView):
    """One credential."""

    @requires("supervisor")
    @blueprint.response(204)
    def delete(self, credential_id: int) -> None:
        """Put a device out of the broker; a stolen one is worth nothing from then on."""
        device_credentials.revoke(services(), actor(), credential_id)


def shown(credential: Credential) -> dict[str, Any]:
    """A credential as clients see it; a gateway's has no device."""
    return {**asdict(credential), "device": None if credential.device == ANY_DEVICE else credential.device}
