"""``/organisation``: the settings that hold for everybody of an organisation."""

from flask.views import MethodView

from service.api.http import examples
from service.api.http.auth import requires
from service.api.http.current import actor, services
from service.api.http.document import Blueprint
from service.api.schemas.organisation import (
    OrganisationChange,
    OrganisationChangeSchema,
    OrganisationSchema,
)
from service.operations import organisation
from service.store.organisations import Organisation

blueprint = Blueprint("organisation", __name__, description="Settings of the organisation")


@blueprint.route("/organisation")
class OneOrganisation(MethodView):
    """The organisation of the token."""

    @requires("reader", within=())
    @blueprint.response(200, OrganisationSchema)
    def get(self) -> Organisation:
        """Read the settings."""
        return organisation.read(services(), actor())

    @requires("administrator")
    @blueprint.arguments(OrganisationChangeSchema, example=examples.ORGANISATION_CHANGE)
    @blueprint.response(200, OrganisationSchema)
    def patch(self, body: OrganisationChange) -> Organisation:
        """Change the time zone by which days are counted, or the units of paper."""
        return organisation.change(
            services(), actor(), time_zone=body.time_zone, units=body.units, rule_book=body.rule_book
        )
