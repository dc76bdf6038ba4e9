"""``/cylinders``: register, read, correct."""

from typing import Any

from flask import g
from flask.views import MethodView

from service.api import examples
from service.api.auth import requires
from service.api.conditional import etagged, matches, updates, version_tag
from service.api.current import actor, services
from service.api.document import Blueprint
from service.api.idempotent import idempotent
from service.api.paging import answer, page_of, request_of
from service.api.quantities import masses
from service.api.schemas.cylinders import (
    CylinderArgs,
    CylinderFieldsSchema,
    CylinderSchema,
    NewCylinderSchema,
)
from service.operations import cylinders
from service.operations.states import requalifier
from service.store.cylinders import Cylinder

blueprint = Blueprint("cylinders", __name__, description="Cylinders and their stamped marks")

Tagged = tuple[dict[str, Any], dict[str, str]]


@blueprint.route("/cylinders")
class Cylinders(MethodView):
    """The fleet."""

    @requires("reader")
    @blueprint.arguments(CylinderArgs, location="query")
    @blueprint.response(200, page_of(CylinderSchema))
    def get(self, args: dict[str, Any]) -> dict[str, Any]:
        """List cylinders in the order of their registration."""
        request = request_of(args)
        designation, place = args["claimed_designation"], args["place"]
        page = cylinders.listed(services(), actor(), request, place=place, designation=designation)
        return answer(page, encode_cylinder)

    @requires("technician")
    @idempotent
    @blueprint.arguments(NewCylinderSchema, example=examples.CYLINDER)
    @blueprint.response(201, CylinderSchema)
    def post(self, body: dict[str, Any]) -> Tagged:
        """Register a cylinder; its serial alone is enough."""
        return _tagged(cylinders.register(services(), actor(), body.pop("serial"), body))


@blueprint.route("/cylinders/<serial>")
class OneCylinder(MethodView):
    """One cylinder."""

    @requires("reader")
    @etagged
    @blueprint.response(200, CylinderSchema)
    def get(self, serial: str) -> Tagged:
        """Read a cylinder."""
        return _tagged(cylinders.read(services(), actor(), serial))

    @requires("technician")
    @updates
    @blueprint.arguments(CylinderFieldsSchema, example=examples.CYLINDER_CHANGE)
    @blueprint.response(200, CylinderSchema)
    def patch(self, body: dict[str, Any], serial: str) -> Tagged:
        """Correct what is known of a cylinder; `null` takes a value back."""

        def fresh(cylinder: Cylinder) -> bool:
            return matches(cylinder.version)

        return _tagged(cylinders.correct(services(), actor(), serial, body, fresh))


def _tagged(cylinder: Cylinder) -> Tagged:
    return encode_cylinder(cylinder), {"ETag": version_tag(cylinder.version)}


def _requalification(cylinder: Cylinder) -> dict[str, Any]:
    if "requalifier" not in g:
        g.requalifier = requalifier(services(), actor())
    known = g.requalifier(cylinder)
    return {"state": str(known.state), "due_on": known.due_on, "source": known.rule.citation}


def encode_cylinder(cylinder: Cylinder) -> dict[str, Any]:
    """A cylinder as JSON, in both units."""
    return {
        "serial": cylinder.serial,
        "place": cylinder.place,
        "marks": cylinder.marks,
        "requalification_stamp": cylinder.requalification_stamp,
        **masses("water_capacity", cylinder.water_capacity_kg),
        **masses("tare", cylinder.tare_kg),
        **masses("gross_mass", cylinder.gross_mass_kg),
        "gross_mass_at": cylinder.gross_mass_at,
        **masses("net_mass", cylinder.net_mass_kg),
        "valves": cylinder.valves,
        "owner": cylinder.owner,
        "owner_consents": cylinder.owner_consents,
        "flammable_marked": cylinder.flammable_marked,
        "standing": cylinder.standing,
        "requalification_condition": cylinder.requalification_condition,
        "requalification_statement": cylinder.requalification_statement,
        "requalify_by": cylinder.requalify_by,
        "service_life_ends": cylinder.service_life_ends,
        "requalification": _requalification(cylinder),
        "notes": cylinder.notes,
        "claimed_designation": cylinder.claimed_designation,
        "epoch": cylinder.epoch,
        "version": cylinder.version,
        "created_at": cylinder.created_at,
        "updated_at": cylinder.updated_at,
    }
