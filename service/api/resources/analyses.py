"""``/analyses`` and ``/scores``: what cylinders turned out to hold, and how right the verdicts before it were."""

from collections.abc import Mapping

from flask.views import MethodView

from service.api.http import examples
from service.api.http.answers import Listed, answer, page_of
from service.api.http.auth import requires
from service.api.http.current import actor, services
from service.api.http.document import Blueprint
from service.api.http.idempotent import idempotent
from service.api.http.paging import OfCylinder
from service.api.schemas.analyses import (
    AnalysisArgs,
    AnalysisBody,
    AnalysisSchema,
    AnalysisTold,
    NewAnalysisSchema,
    PartTold,
    ScoreTold,
)
from service.api.schemas.scores import GroupTold, ScoresArgs, ScoresQuery, ScoresSchema, ScoresTold
from service.operations import analyses, scores
from service.operations.analyses import NewAnalysis
from service.store.analyses import Analysis
from service.verdict.truth.scores import Case, Summary

blueprint = Blueprint(
    "analyses", __name__, description="What cylinders turned out to hold, and how right verdicts were"
)


@blueprint.route("/analyses")
class Analyses(MethodView):
    """Results of laboratories and reclaimers, of opened cylinders and of makers' sealed ones."""

    @requires("reader")
    @blueprint.arguments(AnalysisArgs, location="query")
    @blueprint.response(200, page_of(AnalysisSchema))
    def get(self, args: OfCylinder) -> Listed[AnalysisTold]:
        """List results with the scores of the verdicts that stood before, newest first."""
        page = analyses.listed(services(), actor(), args.page, serial=args.cylinder)
        cases = scores.cases(services(), actor(), page.items)
        return answer(page, lambda one: _told(one, cases.get(one.id)))

    @requires("technician")
    @idempotent
    @blueprint.arguments(NewAnalysisSchema, example=examples.ANALYSIS)
    @blueprint.response(201, AnalysisSchema)
    def post(self, body: AnalysisBody) -> AnalysisTold:
        """Record what a cylinder turned out to hold; the verdict that stood before is scored against it."""
        found = analyses.record(services(), actor(), _new(body))
        return _told(found, scores.cases(services(), actor(), [found]).get(found.id))


@blueprint.route("/scores")
class Scores(MethodView):
    """How right verdicts have been."""

    @requires("reader")
    @blueprint.arguments(ScoresArgs, location="query")
    @blueprint.response(200, ScoresSchema)
    def get(self, args: ScoresQuery) -> ScoresTold:
        """Read how right verdicts have been here, by what turned out, and how little few cases say."""
        found = scores.read(services(), actor(), args.kind)
        return ScoresTold(
            overall=found.overall,
            unscored=found.unscored,
            by_identity=_groups(found.by_identity),
            by_contamination=_groups(found.by_contamination),
            by_refrigerant=_groups(found.by_refrigerant),
            by_instrument_class=_groups(found.by_instrument_class),
            by_kind=_groups(found.by_kind),
            reliability=found.reliability,
            prevalence=found.prevalence,
        )


def _groups(groups: Mapping[str, Summary]) -> list[GroupTold]:
    return [GroupTold(name, one) for name, one in groups.items()]


def _new(body: AnalysisBody) -> NewAnalysis:
    measured = body.composition
    shares: dict[str, float] = {}
    for part in measured.parts if measured else ():
        shares[part.designation] = shares.get(part.designation, 0.0) + part.mass_fraction
    return NewAnalysis(
        serial=body.cylinder,
        kind=body.kind,
        designation=body.designation,
        contamination=body.contamination,
        mass_fractions=shares,
        mass_fraction_uncertainty=measured.mass_fraction_uncertainty if measured else None,
        other_refrigerants_percent=body.other_refrigerants_percent,
        non_condensables_percent=body.non_condensables_percent,
        moisture_ppm=body.moisture_ppm,
        acid_ppm=body.acid_ppm,
        oil_percent=body.oil_percent,
        method=body.method,
        laboratory=body.laboratory,
        number=body.number,
        note=body.note,
        sampled_at=body.at,
    )


def _told(one: Analysis, case: Case | None) -> AnalysisTold:
    return AnalysisTold(
        id=one.id,
        cylinder=one.cylinder,
        epoch=one.epoch,
        kind=one.kind,
        designation=one.designation,
        contamination=one.state,
        composition=[PartTold(name, share) for name, share in (one.mass_fractions or {}).items()],
        mass_fraction_uncertainty=one.mass_fraction_uncertainty,
        non_condensables_percent=one.non_condensables_percent,
        moisture_ppm=one.moisture_ppm,
        acid_ppm=one.acid_ppm,
        oil_percent=one.oil_percent,
        method=one.method,
        laboratory=one.laboratory,
        number=one.number,
        note=one.note,
        score=_score(one, case),
        at=one.sampled_at,
        recorded_at=one.recorded_at,
        recorded_by=one.recorded_by,
    )


def _score(one: Analysis, case: Case | None) -> ScoreTold | None:
    if case is None or one.verdict_id is None:
        return None
    return ScoreTold(
        one.verdict_id, case.probability, case.right_first, case.covered, case.log_score, case.brier
    )
