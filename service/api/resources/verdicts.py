"""``/verdicts``: pairs in, verdict out, nothing stored; and the verdicts on a cylinder."""

from dataclasses import replace

from flask.views import MethodView

from service.api.http import examples
from service.api.http.answers import Listed, answer, page_of
from service.api.http.auth import requires
from service.api.http.current import actor, services
from service.api.http.document import Blueprint
from service.api.http.paging import PageArgs, Paged
from service.api.resources.verdict_answers import verdict_on
from service.api.schemas.verdict_answers import (
    NewestVerdictSchema,
    StoredVerdictSchema,
    VerdictOn,
    VerdictSchema,
)
from service.api.schemas.verdicts import VerdictArgs, VerdictQuery, VerdictRequest, VerdictRequestSchema
from service.operations import adhoc_verdict, value_at_stake, verdicts
from service.operations.adhoc_verdict import Evidence, Question
from service.operations.observing import seen_of
from service.verdict.model import Verdict

blueprint = Blueprint("verdicts", __name__, description="What pairs say about a cylinder")


@blueprint.route("/verdicts")
class Verdicts(MethodView):
    """The stateless verdict."""

    @requires("reader", "worker", within=())
    @blueprint.arguments(VerdictArgs, location="query")
    @blueprint.arguments(VerdictRequestSchema, example=examples.VERDICT)
    @blueprint.response(200, VerdictSchema)
    def post(self, args: VerdictQuery, body: VerdictRequest) -> Verdict:
        """Judge pairs of one cylinder's contents, and what is known of it."""
        question = Question(
            readings=tuple(_against(body, pair) for pair in body.pairs),
            claimed_designation=body.claimed_designation,
            water_capacity_kg=body.cylinder.water_capacity_kg,
            net_mass_kg=body.cylinder.net_mass_kg,
            prior=body.prior,
            provenance=body.cylinder.provenance,
            seen=seen_of(body.observations),
        )
        return adhoc_verdict.judge_question(services(), question, explain=args.explain, chart=args.chart)


@blueprint.route("/cylinders/<serial>/verdict")
class NewestVerdict(MethodView):
    """The newest verdict on a cylinder."""

    @requires("reader", within=())
    @blueprint.response(200, NewestVerdictSchema)
    def get(self, serial: str) -> VerdictOn:
        """Read the newest verdict on the present contents, and what is at stake in them."""
        found = value_at_stake.of_cylinder(services(), actor(), serial)
        newest = verdicts.newest(services(), actor(), serial)
        return verdict_on(serial, newest, found.advice, found.stake)


@blueprint.route("/cylinders/<serial>/verdicts")
class CylinderVerdicts(MethodView):
    """Every verdict on a cylinder."""

    @requires("reader", within=())
    @blueprint.arguments(PageArgs, location="query")
    @blueprint.response(200, page_of(StoredVerdictSchema))
    def get(self, args: Paged, serial: str) -> Listed[VerdictOn]:
        """List verdicts, newest first."""
        page = verdicts.listed(services(), actor(), serial, args.page)
        return answer(page, lambda verdict: verdict_on(serial, verdict))


@blueprint.route("/cylinders/<serial>/chart")
class CylinderChart(MethodView):
    """What is needed to draw a cylinder's evidence."""

    @requires("reader", within=())
    @blueprint.arguments(VerdictArgs(only=["explain"]), location="query")
    @blueprint.response(200, VerdictSchema)
    def get(self, args: VerdictQuery, serial: str) -> Verdict:
        """Judge the present evidence again, with curves, bands and ellipses."""
        return verdicts.anew(services(), actor(), serial, explain=args.explain, chart=True)


def _against(body: VerdictRequest, pair: Evidence) -> Evidence:
    """A pair with the air pressure of all where it states none."""
    read = pair.pressure
    ambient_pa = body.ambient_pa if read.ambient_pa is None else read.ambient_pa
    elevation_m = body.elevation_m if read.elevation_m is None else read.elevation_m
    return replace(pair, pressure=replace(read, ambient_pa=ambient_pa, elevation_m=elevation_m))
