"""``/equilibrium-pairs`` and the pairs of a cylinder."""

from flask.views import MethodView

from service.api.http import examples
from service.api.http.answers import Listed, answer, page_of
from service.api.http.auth import requires
from service.api.http.current import actor, services
from service.api.http.document import Blueprint
from service.api.http.idempotent import idempotent
from service.api.resources.verdict_answers import verdict_on
from service.api.schemas.pairs import (
    NewPairSchema,
    PairArgs,
    PairOf,
    PairQuery,
    RecordedSchema,
    StoredPairSchema,
    Taken,
)
from service.operations import pairs
from service.operations.pairs import NewPair

blueprint = Blueprint("pairs", __name__, description="Equilibrium pairs: the evidence")


@blueprint.route("/equilibrium-pairs")
class EquilibriumPairs(MethodView):
    """Taking evidence."""

    @requires("technician", "worker", within=("cylinder", "hookup"))
    @idempotent
    @blueprint.arguments(NewPairSchema, example=examples.PAIR)
    @blueprint.response(201, RecordedSchema)
    def post(self, body: NewPair) -> Taken:
        """Take a pair of a hookup or of a cylinder, and answer the new verdict."""
        recorded = pairs.record(services(), actor(), body)
        serial, verdict = recorded.serial, recorded.verdict
        told = None if verdict is None else verdict_on(serial, verdict, recorded.advice)
        return Taken(PairOf(serial, recorded.pair), told)


@blueprint.route("/cylinders/<serial>/pairs")
class CylinderPairs(MethodView):
    """Evidence of a cylinder."""

    @requires("reader", within=())
    @blueprint.arguments(PairArgs, location="query")
    @blueprint.response(200, page_of(StoredPairSchema))
    def get(self, args: PairQuery, serial: str) -> Listed[PairOf]:
        """List pairs, newest first."""
        page = pairs.listed(
            services(), actor(), serial, args.page, epoch=args.epoch, provisional=args.provisional
        )
        return answer(page, lambda pair: PairOf(serial, pair))
