"""``/mappings``: how messages that are not SenML are read; the worker fetches them."""

from flask import request
from flask.views import MethodView

from service.api.http import examples
from service.api.http.answers import Listed, rows
from service.api.http.auth import requires
from service.api.http.conditional import matches, tagged_by, version_tag
from service.api.http.current import actor, services
from service.api.http.document import Blueprint
from service.api.http.paging import PageArgs, Paged
from service.api.schemas.mappings import (
    MappingBody,
    MappingSchemaIn,
    MappingTrialSchema,
    StoredMappingPageSchema,
    StoredMappingSchema,
    TrialBody,
    TrialSchema,
    TrialTold,
    TrialValue,
)
from service.operations import mappings
from service.operations.support import events
from service.operations.support.errors import FieldError, Invalid
from service.operations.support.events import MAPPING_CHANGED
from service.store.mappings import StoredMapping

blueprint = Blueprint("mappings", __name__, description="How messages that are not SenML are read")
Tagged = tuple[StoredMapping, dict[str, str]]


def _what_mappings_rest_on() -> str:
    return f"mappings {events.newest_of(services(), actor(), MAPPING_CHANGED)}"


@blueprint.route("/mappings")
class Mappings(MethodView):
    """Every mapping that messages are read by."""

    @requires("reader", "worker")
    @tagged_by(_what_mappings_rest_on)
    @blueprint.arguments(PageArgs, location="query")
    @blueprint.response(200, StoredMappingPageSchema)
    def get(self, args: Paged) -> Listed[StoredMapping]:
        """List the mappings that messages are read by, each in its newest version."""
        return rows(mappings.listed(services(), actor(), args.page))


@blueprint.route("/mappings/<name>")
class OneMapping(MethodView):
    """One mapping."""

    @requires("reader", "worker")
    @blueprint.response(200, StoredMappingSchema)
    def get(self, name: str) -> Tagged:
        """Read the newest version of a mapping."""
        return _tagged(mappings.read(services(), actor(), name))

    @requires("supervisor")
    @blueprint.arguments(MappingSchemaIn, example=examples.MAPPING)
    @blueprint.response(200, StoredMappingSchema)
    def put(self, body: MappingBody, name: str) -> Tagged:
        """Keep a mapping or its next version; with `If-Match` only while it is what was read.

        What could not be read of late and can be read by it then is read by it.
        """

        def fresh(version: int) -> bool:
            return "If-Match" not in request.headers or matches(version)

        given = body.mapping.get("name", name)
        if given != name:
            raise Invalid(FieldError("mapping.name", given, f"{name}, as in the address"))
        return _tagged(mappings.save(services(), actor(), {**body.mapping, "name": name}, fresh))

    @requires("supervisor")
    @blueprint.response(204)
    def delete(self, name: str) -> None:
        """Read no message by a mapping any more; its versions stay."""
        mappings.withdraw(services(), actor(), name)


@blueprint.route("/mappings/<name>/versions")
class MappingVersions(MethodView):
    """What a mapping was."""

    @requires("reader")
    @blueprint.arguments(PageArgs, location="query")
    @blueprint.response(200, StoredMappingPageSchema)
    def get(self, args: Paged, name: str) -> Listed[StoredMapping]:
        """List every version of a mapping, newest first; one without a mapping withdrew it."""
        return rows(mappings.versions(services(), actor(), name, args.page))


@blueprint.route("/mapping-trials")
class MappingTrials(MethodView):
    """Trying a mapping."""

    @requires("reader")
    @blueprint.arguments(MappingTrialSchema, example=examples.MAPPING_TRIAL)
    @blueprint.response(200, TrialSchema)
    def post(self, body: TrialBody) -> TrialTold:
        """Tell what a mapping makes of one message; nothing is kept."""
        found = mappings.trial(body.mapping, body.topic, body.message, services().now().timestamp())
        return TrialTold([TrialValue(one) for one in found.readings], found.faults)


def _tagged(stored: StoredMapping) -> Tagged:
    return stored, {"ETag": version_tag(stored.version)}
