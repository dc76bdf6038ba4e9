"""``/cylinders/{serial}/judgement``: all that is judged of a cylinder, and what each part rests on."""

from typing import Any

from flask.views import MethodView

from service.api import examples
from service.api.auth import requires
from service.api.current import actor, services
from service.api.document import Blueprint
from service.api.idempotent import idempotent
from service.api.quantities import masses
from service.api.rules_json import encode_limit, encode_said
from service.api.schemas.judgement import AdviceReleaseSchema, JudgementSchema
from service.cylinders.judgement.belief import Belief
from service.cylinders.judgement.causes import Cause
from service.cylinders.judgement.judge import Judgement
from service.operations import judgements, releases

blueprint = Blueprint("judgement", __name__, description="What is judged of a cylinder")


@blueprint.route("/cylinders/<serial>/judgement")
class OneJudgement(MethodView):
    """One cylinder's judgement."""

    @requires("reader")
    @blueprint.response(200, JudgementSchema)
    def get(self, serial: str) -> dict[str, Any]:
        """Read what it may hold, what may be done with it, what must be done next, and what it is called."""
        return encode_judgement(judgements.of_serial(services(), actor(), serial).judgement)


@blueprint.route("/cylinders/<serial>/advice-releases")
class AdviceReleases(MethodView):
    """Advice that no longer binds."""

    @requires("supervisor")
    @idempotent
    @blueprint.arguments(AdviceReleaseSchema, example=examples.ADVICE_RELEASE)
    @blueprint.response(201, JudgementSchema)
    def post(self, body: dict[str, Any], serial: str) -> dict[str, Any]:
        """Release the present advice for the present contents, with the reason; answers the new judgement."""
        judged = releases.release_advice(services(), actor(), serial, body["reason"])
        return encode_judgement(judged.judgement)


def encode_judgement(judgement: Judgement) -> dict[str, Any]:
    """A judgement as JSON, in both units."""
    state, filling, due = judgement.state, judgement.filling, judgement.requalification
    return {
        "cylinder": state.serial,
        "on": judgement.on,
        "belief": _belief(judgement.belief),
        "hazards": [
            {"code": one.code, "probability": one.probability, "designations": list(one.designations)}
            for one in judgement.hazards
        ],
        "name": {
            "form": judgement.name.form,
            "text": judgement.name.text,
            "designation": judgement.name.designation,
            "ground": judgement.name.ground,
            "instead": list(judgement.name.instead),
            "probability": judgement.name.probability,
        },
        **masses("net_mass", filling.net_mass_kg),
        "limit": encode_limit(filling.limit, state.tare_kg),
        **masses("room", judgement.room_kg),
        "requalification": str(due.state),
        "requalify_by": due.due_on,
        "permits": [
            {
                "act": str(act),
                "allowed": permit.allowed,
                "reasons": [encode_said(reason) for reason in permit.reasons],
            }
            for act, permit in judgement.permits.items()
        ],
        "advice": encode_advice(judgement),
        "attention": [_cause(cause) for cause in judgement.attention],
        "unknowns": [
            {"code": code, "text": text, "enter_at": f"/api/v1/cylinders/{state.serial}"}
            for code, text in judgement.unknowns
        ],
    }


def encode_advice(judgement: Judgement) -> dict[str, Any]:
    """The one next thing to do."""
    advice = judgement.advice
    return {
        "code": advice.code,
        "text": advice.text,
        "disposition": advice.disposition,
        "forbids": sorted(advice.forbids),
        "may_be_released": advice.release_code is not None and bool(advice.forbids),
    }


def _belief(belief: Belief) -> dict[str, Any]:
    return {
        "empty": belief.is_empty,
        "contents": [
            {
                "designation": one.designation,
                "probability": one.probability,
                "kinds": {str(kind): probability for kind, probability in one.kinds.items()},
                "partners": dict(one.partners),
                "source": str(one.source),
            }
            for one in belief.contents
        ],
        "something_else": belief.unknown,
        "believable": [] if belief.is_empty else list(belief.believable),
    }


def _cause(cause: Cause) -> dict[str, Any]:
    return {
        "code": str(cause.kind),
        "severity": cause.severity,
        "text": cause.text,
        "since": cause.since,
        "ends": cause.ends,
    }
