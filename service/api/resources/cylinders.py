"""``/cylinders``: register, read, correct."""

from flask import g
from flask.views import MethodView

from service.api.http import examples
from service.api.http.answers import Listed, answer, page_of
from service.api.http.auth import requires
from service.api.http.conditional import etagged, matches, updates, version_tag
from service.api.http.current import actor, services
from service.api.http.document import Blueprint
from service.api.http.idempotent import idempotent
from service.api.schemas.cylinders import (
    CylinderArgs,
    CylinderFieldsSchema,
    CylinderQuery,
    CylinderSchema,
    NewCylinderSchema,
    Shown,
)
from service.operations import cylinders
from service.operations.cylinder_state import requalifier
from service.operations.cylinders import CylinderFields, NewCylinder
from service.store.cylinders import Cylinder

blueprint = Blueprint("cylinders", __name__, description="Cylinders and their stamped marks")

Tagged = tuple[Shown, dict[str, str]]


@blueprint.route("/cylinders")
class Cylinders(MethodView):
    """The fleet."""

    @requires("reader", within=("place",))
    @blueprint.arguments(CylinderArgs, location="query")
    @blueprint.response(200, page_of(CylinderSchema))
    def get(self, args: CylinderQuery) -> Listed[Shown]:
        """List cylinders in the order of their registration."""
        page = cylinders.listed(
            services(),
            actor(),
            args.page,
            place=args.place,
            designation=args.claimed_designation,
            updated_since=args.updated_since,
        )
        g.requalifier = requalifier(services(), actor(), page.items)
        return answer(page, shown)

    @requires("technician", within=("place",), naming="place")
    @idempotent
    @blueprint.arguments(NewCylinderSchema, example=examples.CYLINDER)
    @blueprint.response(201, CylinderSchema)
    def post(self, body: NewCylinder) -> Tagged:
        """Register a cylinder; its serial alone is enough."""
        fields = cylinders.besides_serial(body)
        return _tagged(cylinders.register(services(), actor(), body["serial"], fields))


@blueprint.route("/cylinders/<serial>")
class OneCylinder(MethodView):
    """One cylinder."""

    @requires("reader", within=())
    @etagged
    @blueprint.response(200, CylinderSchema)
    def get(self, serial: str) -> Tagged:
        """Read a cylinder."""
        return _tagged(cylinders.read(services(), actor(), serial))

    @requires("technician", within=("place",))
    @updates
    @blueprint.arguments(CylinderFieldsSchema, example=examples.CYLINDER_CHANGE)
    @blueprint.response(200, CylinderSchema)
    def patch(self, body: CylinderFields, serial: str) -> Tagged:
        """Correct what is known of a cylinder; `null` takes a value back."""

        def fresh(cylinder: Cylinder) -> bool:
            return matches(cylinder.version)

        return _tagged(cylinders.correct(services(), actor(), serial, body, fresh))


def _tagged(cylinder: Cylinder) -> Tagged:
    return shown(cylinder), {"ETag": version_tag(cylinder.version)}


def shown(cylinder: Cylinder) -> Shown:
    """A cylinder beside where it stands; the calendar is looked up once a request."""
    if "requalifier" not in g:
        g.requalifier = requalifier(services(), actor(), [cylinder])
    return Shown(cylinder, g.requalifier(cylinder))
