"""How right verdicts have been here: each established contents against the verdict that stood before."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from service.cylinders.judgement.assessment import Assessment
from service.cylinders.judgement.belief import Kind
from service.operations import truths
from service.operations.analyses import KINDS
from service.operations.support import beliefs
from service.operations.support.context import Actor, Services
from service.operations.support.errors import FieldError, Invalid
from service.store import analyses, verdicts
from service.store.analyses import Analysis
from service.store.work import Work
from service.units import kpa_from_pa
from service.verdict.truth.scores import Bin, Case, Stated, Summary, by, reliability, summary

_DIRTY = (Kind.AIR, Kind.SHIFTED, Kind.MIXED)


@dataclass(frozen=True, slots=True)
class Prevalent:
    """How common a designation is taken to be before any reading [-], and how many cylinders were counted for it."""

    designation: str
    by_table: float
    counted: int
    share: float


@dataclass(frozen=True, slots=True)
class Scores:
    """
    All scores.

    Parameters
    ----------
    overall
        Of every established contents that a verdict stood on.
    unnamed
        Of those that were scored, results that say only what was with it.
    unscored
        Established contents of which no verdict stood before.
    by_identity, by_contamination, by_refrigerant, by_instrument_class, by_kind
        The same in groups, the largest first.
    reliability
        Stated against observed frequency.
    prevalence
        What the owner's established cylinders make of the region's table.
    """

    overall: Summary
    unnamed: int
    unscored: int
    by_identity: Mapping[str, Summary]
    by_contamination: Mapping[str, Summary]
    by_refrigerant: Mapping[str, Summary]
    by_instrument_class: Mapping[str, Summary]
    by_kind: Mapping[str, Summary]
    reliability: Sequence[Bin]
    prevalence: Sequence[Prevalent]


def read(services: Services, actor: Actor, kind: str | None = None) -> Scores:
    """
    Score everything that turned out, or what one kind of result established.

    Raises
    ------
    Invalid
        When there is no such kind.
    """
    if kind is not None and kind not in KINDS:
        raise Invalid(FieldError("kind", kind, f"one of {', '.join(KINDS)}"))
    with services.database.reading(actor.organisation_id) as work:
        found = truths.each_once(analyses.everything(work, None if kind is None else (kind,)))
        known = cases_of(work, found)
        counted = truths.counts(work)
    judged = [one for one in found if one.id in known]
    scored = [known[one.id] for one in judged]
    return Scores(
        overall=summary(scored),
        unnamed=sum(not one.is_named for one in scored),
        unscored=len(found) - len(judged),
        by_identity=by(scored, lambda i: scored[i].stated.identity),
        by_contamination=by(scored, lambda i: scored[i].stated.contamination),
        by_refrigerant=by(
            scored, lambda i: (judged[i].designation or "not named") if scored[i].is_named else None
        ),
        by_instrument_class=by(scored, lambda i: instrument_class(judged[i])),
        by_kind=by(scored, lambda i: judged[i].kind),
        reliability=reliability(scored),
        prevalence=_prevalence(services, counted),
    )


def cases(services: Services, actor: Actor, results: Sequence[Analysis]) -> dict[int, Case]:
    """``cases_of`` for a caller without a transaction, of those results that say which refrigerant it was."""
    with services.database.reading(actor.organisation_id) as work:
        return {key: one for key, one in cases_of(work, results).items() if one.is_named}


def cases_of(work: Work, results: Sequence[Analysis]) -> dict[int, Case]:
    """Results against the verdicts that stood before, by result; those of which none stood are left out.

    One that names no refrigerant and has no composition, as many a rejection, says only what was with it.
    """
    ids = {one.verdict_id for one in results if one.verdict_id is not None}
    stated = {key: stated_of(beliefs.assessment_in(gist)) for key, gist in verdicts.gists(work, ids).items()}
    return {
        one.id: Case(stated[one.verdict_id], one.designation, one.state, is_named=_names(one))
        for one in results
        if one.verdict_id in stated
    }


def _names(one: Analysis) -> bool:
    return one.designation is not None or bool(one.mass_fractions)


def stated_of(found: Assessment) -> Stated:
    """What a verdict stated, as far as it is scored."""
    contents = found.belief.contents
    return Stated(
        designations={one.designation: one.probability for one in contents},
        contaminated=sum(one.kinds.get(kind, 0.0) for one in contents for kind in _DIRTY),
        listed=found.candidates,
        identity=found.identity,
        contamination=found.contamination,
    )


def instrument_class(one: Analysis) -> str | None:
    """What the instruments were taken for, in words."""
    if one.temp_bias_k is None or one.pressure_bias_pa is None:
        return None
    return f"{one.temp_bias_k:.2g} K, {kpa_from_pa(one.pressure_bias_pa):.2g} kPa"


def _prevalence(services: Services, counted: Mapping[str, int]) -> tuple[Prevalent, ...]:
    learned = services.policy.prevalence.learned(counted, len(services.catalogue))
    return tuple(
        Prevalent(name, table, counted.get(name, 0), share) for name, (table, share) in learned.items()
    )
