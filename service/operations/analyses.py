"""Use cases for what cylinders turned out to hold: kept beside the verdict that stood before, and believed since."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any, Final

from service.codes import AnalysisKind
from service.cylinders.judgement.belief import Belief, Content, Kind, Source
from service.operations import lessons, verdicts
from service.operations.checks import designation_of
from service.operations.support import beliefs, calendar, judgements
from service.operations.support.attention import review
from service.operations.support.beliefs import Kept
from service.operations.support.context import Actor, Services, tell
from service.operations.support.errors import FieldError, Invalid, NotFound
from service.operations.support.events import ANALYSIS_RECORDED
from service.operations.support.lookup import by_serial
from service.store import analyses, pairs
from service.store import cylinders as stored
from service.store.analyses import Analysis
from service.store.cylinders import Cylinder
from service.store.paging import Page, PageRequest
from service.store.work import Work
from service.verdict.model import CONTAMINATIONS
from service.verdict.observations import LABORATORY_UNCERTAINTY, LEAST_NAMED, MOST_NAMED
from service.verdict.truth.established import AIR_ALLOWED, OTHERS_ALLOWED, Established, from_composition

KINDS: Final[tuple[str, ...]] = tuple(AnalysisKind)
"""A laboratory's result; what a reclaimer accepted, rejected or credited; what was found when it was opened; a maker's
sealed container."""
STATES: Final = CONTAMINATIONS
BELIEVED: Final = ("laboratory", "sealed")
"""Kinds that say what is in it now, where it still has these contents; what was opened or taken back has gone."""
PERCENT: Final = 100.0
_KINDS: Final = {"none": Kind.CLEAN, "air": Kind.AIR, "shifted": Kind.SHIFTED, "mixed": Kind.MIXED}


@dataclass(frozen=True, slots=True)
class NewAnalysis:
    """
    What turned out.

    Parameters
    ----------
    serial
        Cylinder.
    kind
        One of ``KINDS``.
    designation, contamination
        As the result names them; contamination is one of ``STATES``.
    mass_fractions, mass_fraction_uncertainty
        By designation, and the standard uncertainty of each [-].
    other_refrigerants_percent, non_condensables_percent, moisture_ppm, acid_ppm, oil_percent
        By mass; non-condensables by volume of the vapor.
    sampled_at
        When the contents were as found; now unless told.
    """

    serial: str
    kind: str
    designation: str | None = None
    contamination: str | None = None
    mass_fractions: Mapping[str, float] = field(default_factory=dict)
    mass_fraction_uncertainty: float | None = None
    other_refrigerants_percent: float | None = None
    non_condensables_percent: float | None = None
    moisture_ppm: float | None = None
    acid_ppm: float | None = None
    oil_percent: float | None = None
    method: str | None = None
    laboratory: str | None = None
    number: str | None = None
    note: str | None = None
    sampled_at: datetime | None = None


def record(services: Services, actor: Actor, new: NewAnalysis) -> Analysis:
    """
    Keep a result beside the verdict that stood before; one of ``BELIEVED`` on present contents is believed from now on.

    Raises
    ------
    Invalid
        When it establishes nothing, a designation is unknown, or it lies in the future.
    NotFound
        When the cylinder is unknown.
    """
    with services.database.writing(actor.organisation_id) as work:
        cylinder = by_serial(work, new.serial, lock=True)
        at = services.now()
        found = note_down(services, work, actor, cylinder, new, at)
        if new.kind in BELIEVED and found.epoch == cylinder.epoch:
            believe(services, work, actor, cylinder, found, at)
        review(services, work, actor, at, [cylinder.id])
        return found


def note_down(
    services: Services, work: Work, actor: Actor, cylinder: Cylinder, new: NewAnalysis, at: datetime
) -> Analysis:
    """Keep a result, in somebody else's transaction, before anything is judged with it."""
    sampled_at = calendar.moment("at", new.sampled_at, at)
    epoch = stored.epoch_at(work, cylinder, sampled_at).number
    parts = _parts(services, new)
    found = _established(services, new, parts)
    earlier = analyses.of_epoch(work, cylinder.id, epoch)
    before = earlier[0].verdict_id if earlier else analyses.newest_verdict(work, cylinder.id, epoch)
    read = pairs.speaking(work, cylinder.id, epoch, limit=1)
    analysis_id = analyses.insert(
        work, cylinder_id=cylinder.id, epoch=epoch, kind=new.kind, designation=found.designation,
        state=found.state, mass_fractions=parts or None,
        mass_fraction_uncertainty=new.mass_fraction_uncertainty,
        non_condensables_percent=new.non_condensables_percent, moisture_ppm=new.moisture_ppm,
        acid_ppm=new.acid_ppm, oil_percent=new.oil_percent, method=new.method, laboratory=new.laboratory,
        number=new.number, note=new.note, verdict_id=before,
        temp_bias_k=read[-1].temp_bias_k if read else None,
        pressure_bias_pa=read[-1].pressure_bias_pa if read else None,
        sampled_at=sampled_at, recorded_at=at, recorded_by=actor.name,
    )  # fmt: skip
    tell(
        work,
        actor,
        at,
        ANALYSIS_RECORDED,
        f"cylinders/{cylinder.serial}",
        _told(cylinder, analysis_id, new, found),
    )
    kept = _by_id(work, analysis_id)
    lessons.result(services, work, actor, kept)
    return kept


def _established(services: Services, new: NewAnalysis, parts: Mapping[str, float]) -> Established:
    """
    What a result establishes.

    Raises
    ------
    Invalid
        When it names neither a refrigerant nor a contamination.
    """
    if new.kind not in KINDS:
        raise Invalid(FieldError("kind", new.kind, f"one of {', '.join(KINDS)}"))
    if new.contamination is not None and new.contamination not in STATES:
        raise Invalid(FieldError("contamination", new.contamination, f"one of {', '.join(STATES)}"))
    name = designation_of(services, new.designation, "designation")
    air = None if new.non_condensables_percent is None else new.non_condensables_percent / PERCENT
    if parts:
        uncertainty = new.mass_fraction_uncertainty or LABORATORY_UNCERTAINTY
        found = from_composition(services.catalogue, parts, uncertainty, named=name, air=air)
        return Established(found.designation, new.contamination or found.state)
    if name is None and new.contamination is None:
        raise Invalid(
            FieldError("designation", new.designation, "a designation, a composition or a contamination")
        )
    return Established(name, new.contamination or _state(new, air))


def _state(new: NewAnalysis, air: float | None) -> str | None:
    """What single figures say; a laboratory that names one refrigerant and nothing else found nothing else."""
    others = new.other_refrigerants_percent
    if others is not None and others / PERCENT > OTHERS_ALLOWED:
        return "mixed"
    if air is not None and air > AIR_ALLOWED:
        return "air"
    return "none" if new.kind == "laboratory" and others is not None else None


def _parts(services: Services, new: NewAnalysis) -> dict[str, float]:
    """Mass fractions by the catalogue's own designations [-]."""
    shares: dict[str, float] = {}
    for text, share in new.mass_fractions.items():
        name = designation_of(services, text, "composition.parts")
        if name is None:
            raise Invalid(FieldError("composition.parts", text, "a designation such as R-410A"))
        shares[name] = shares.get(name, 0.0) + share
    total = sum(shares.values())
    if shares and not LEAST_NAMED <= total <= MOST_NAMED:
        expected = f"mass fractions that add up to {LEAST_NAMED:g} to {MOST_NAMED:g}"
        raise Invalid(FieldError("composition.parts", total, expected))
    return shares


def believe(
    services: Services, work: Work, actor: Actor, cylinder: Cylinder, found: Analysis, at: datetime
) -> None:
    """Believe a result that names a refrigerant, and judge the readings of these contents again with it."""
    if found.designation is None:
        return
    epoch = stored.epoch_of(work, cylinder, cylinder.epoch)
    current = verdicts.current(work, cylinder)
    otherwise = Belief() if current is None else beliefs.assessment_of(current.found).belief
    told = Content(found.designation, _kinds(services, found), {}, Source.ANALYSIS)
    believed = _either(told, lessons.trust(services, work, cylinder, found), otherwise)
    kept = Kept(claims=beliefs.kept(cylinder, epoch).claims, carried=believed)
    stored.set_contents(work, cylinder, beliefs.with_kept(epoch.contents or {}, kept))
    verdict = verdicts.reach(services, work, at, cylinder, cylinder.epoch, None)
    judged = judgements.of(services, work, by_serial(work, cylinder.serial))
    verdicts.announce(work, actor, at, judged, verdict)


def _either(told: Content, trust: float, otherwise: Belief) -> Belief:
    """What a result says, as far as it is of this cylinder, and else what was believed without it."""
    found = {told.designation: replace(told, kinds={kind: trust * p for kind, p in told.kinds.items()})}
    for one in otherwise.contents:
        with_it = found.get(one.designation, replace(told, designation=one.designation, kinds={}))
        kinds, partners = dict(with_it.kinds), dict(with_it.partners)
        for kind, p in one.kinds.items():
            kinds[kind] = kinds.get(kind, 0.0) + (1 - trust) * p
        for name, p in one.partners.items():
            partners[name] = partners.get(name, 0.0) + (1 - trust) * p
        found[one.designation] = replace(with_it, kinds=kinds, partners=partners)
    return Belief(tuple(sorted(found.values(), key=lambda one: -one.probability)))


def _kinds(services: Services, found: Analysis) -> dict[Kind, float]:
    """What a result says was with it [-]; a report that names a refrigerant alone leaves what is usual."""
    if found.state is not None or found.kind != "laboratory":
        return {_KINDS[found.state or "none"]: 1.0}
    usual = {kind: services.policy.prevalence.states[state] for state, kind in _KINDS.items()}
    return {kind: share / sum(usual.values()) for kind, share in usual.items()}


def listed(services: Services, actor: Actor, request: PageRequest, *, serial: str | None) -> Page[Analysis]:
    """Results, newest first."""
    with services.database.reading(actor.organisation_id) as work:
        if serial is not None:
            by_serial(work, serial)
        return analyses.page(work, request, serial=serial)


def _by_id(work: Work, analysis_id: int) -> Analysis:
    found = analyses.by_id(work, analysis_id)
    if found is None:
        raise NotFound("analysis", analysis_id)
    return found


def _told(cylinder: Cylinder, analysis_id: int, new: NewAnalysis, found: Established) -> dict[str, Any]:
    return {
        "cylinder": cylinder.serial,
        "analysis": analysis_id,
        "kind": new.kind,
        "designation": found.designation,
        "state": found.state,
    }
