"""``/cylinders/{serial}/judgement``: all that is judged of a cylinder, and what each part rests on."""

from flask.views import MethodView

from service.api.http import examples
from service.api.http.auth import requires
from service.api.http.current import actor, services
from service.api.http.document import Blueprint
from service.api.http.idempotent import idempotent
from service.api.schemas.judgement import AdviceRelease, AdviceReleaseSchema, JudgementSchema, Told
from service.operations import releases
from service.operations.support import judgements

blueprint = Blueprint("judgement", __name__, description="What is judged of a cylinder")


@blueprint.route("/cylinders/<serial>/judgement")
class OneJudgement(MethodView):
    """One cylinder's judgement."""

    @requires("reader", within=())
    @blueprint.response(200, JudgementSchema)
    def get(self, serial: str) -> Told:
        """Read what it may hold, what may be done with it, what must be done next, and what it is called."""
        return Told(judgements.of_serial(services(), actor(), serial).judgement)


@blueprint.route("/cylinders/<serial>/advice-releases")
class AdviceReleases(MethodView):
    """Advice that no longer binds."""

    @requires("supervisor", within=())
    @idempotent
    @blueprint.arguments(AdviceReleaseSchema, example=examples.ADVICE_RELEASE)
    @blueprint.response(201, JudgementSchema)
    def post(self, body: AdviceRelease, serial: str) -> Told:
        """Release the present advice for the present contents, with the reason; answers the new judgement."""
        return Told(releases.release_advice(services(), actor(), serial, body.reason).judgement)
