"""Use cases for verdicts: judging evidence, keeping what was found, reading it again."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from service.cylinders.contents import UNKNOWN
from service.cylinders.judgement.advice import Advice
from service.cylinders.judgement.belief import Source
from service.cylinders.water_capacity import water_volume_m3
from service.measures import VERDICT_SECONDS
from service.operations import instrument_corrections, observing, truths
from service.operations.support import beliefs
from service.operations.support.context import Actor, Services, tell
from service.operations.support.errors import FieldError, Invalid, NotFound
from service.operations.support.events import VERDICT_REACHED
from service.operations.support.judgements import Judged
from service.operations.support.lookup import by_serial
from service.store import cylinders as stored_cylinders
from service.store import pairs, verdicts
from service.store.cylinders import Cylinder, Epoch
from service.store.paging import Page, PageRequest
from service.store.pairs import StoredPair
from service.store.verdicts import StoredVerdict
from service.store.work import Work
from service.verdict.errors import InvalidEvidence
from service.verdict.model import CylinderFacts, Pair, Verdict


def judge(
    services: Services,
    evidence: Sequence[Pair],
    facts: CylinderFacts,
    *,
    prior: str = "field",
    explain: bool = False,
    chart: bool = False,
) -> Verdict:
    """
    What some pairs say; nothing is stored.

    Parameters
    ----------
    services
        Holds the verdict engine.
    evidence
        Pairs of one cylinder's present contents.
    facts
        What else is known.
    prior, explain, chart
        As of ``VerdictEngine.verdict``.

    Returns
    -------
    Verdict
        In SI.

    Raises
    ------
    Invalid
        When no verdict can be built on a value.
    """
    try:
        with VERDICT_SECONDS.time():
            return services.judge.verdict(evidence, facts, prior=prior, explain=explain, chart=chart)
    except InvalidEvidence as error:
        raise Invalid(FieldError(error.field, error.value, error.expected)) from error


def newest(services: Services, actor: Actor, serial: str) -> StoredVerdict:
    """The newest verdict on the present contents."""
    with services.database.reading(actor.organisation_id) as work:
        found = current(work, by_serial(work, serial))
        if found is None:
            raise NotFound("verdict on the present contents of cylinder", serial)
        return found


def current(work: Work, cylinder: Cylinder) -> StoredVerdict | None:
    """The newest verdict on the present contents, if there is one."""
    return None if cylinder.verdict_id is None else verdicts.by_id(work, cylinder.verdict_id)


def listed(services: Services, actor: Actor, serial: str, request: PageRequest) -> Page[StoredVerdict]:
    """Every verdict on a cylinder, newest first."""
    with services.database.reading(actor.organisation_id) as work:
        return verdicts.page(work, request, by_serial(work, serial).id)


def anew(
    services: Services,
    actor: Actor,
    serial: str,
    *,
    prior: str = "field",
    explain: bool = False,
    chart: bool = False,
) -> Verdict:
    """Judge a cylinder's present evidence again, with terms or curves; nothing is stored."""
    with services.database.reading(actor.organisation_id) as work:
        cylinder = by_serial(work, serial)
        spoken = pairs.speaking(work, cylinder.id, cylinder.epoch)
        facts = facts_of(work, cylinder, cylinder.epoch)
        evidence, corrections = _corrected(work, spoken)
    if not spoken:
        raise NotFound("settled pair of the present contents of cylinder", serial)
    found = judge(services, evidence, facts, prior=prior, explain=explain, chart=chart)
    usual = truths.in_words(facts.history) if prior == "field" else ()
    return instrument_corrections.with_reasons(found, (*corrections, *usual))


def reach(
    services: Services,
    work: Work,
    at: datetime,
    cylinder: Cylinder,
    epoch: int,
    pair_id: int | None,
) -> StoredVerdict | None:
    """
    Judge an epoch's settled pairs and keep the verdict, in somebody else's transaction; ``announce`` tells of it.

    Parameters
    ----------
    services, work, at
        What may be used, the open transaction, when.
    cylinder
        Read with ``lock``.
    epoch
        Whose pairs speak.
    pair_id
        The pair that gave rise to it.

    Returns
    -------
    StoredVerdict or None
        None while no settled pair speaks.
    """
    spoken = pairs.speaking(work, cylinder.id, epoch)
    if not spoken:
        return None
    evidence, corrections = _corrected(work, spoken)
    facts = facts_of(work, cylinder, epoch)
    found = judge(services, evidence, facts)
    found = instrument_corrections.with_reasons(found, (*corrections, *truths.in_words(facts.history)))
    gist = beliefs.assessment_document(beliefs.assessment_of(found))
    verdict = verdicts.insert(
        work, cylinder_id=cylinder.id, epoch=epoch, pair_id=pair_id, reached_at=at, verdict=found, gist=gist
    )
    if epoch == cylinder.epoch:
        stored_cylinders.set_verdict(work, cylinder.id, verdict.id)
    return verdict


def announce(work: Work, actor: Actor, at: datetime, judged: Judged, verdict: StoredVerdict | None) -> None:
    """Tell of a verdict on the present contents, with what the judgement that it led to advises."""
    if verdict is None or verdict.epoch != judged.row.epoch:
        return
    told = _told(judged.row, verdict, judged.judgement.advice)
    tell(work, actor, at, VERDICT_REACHED, f"cylinders/{judged.row.serial}", told)


def _corrected(work: Work, spoken: Sequence[StoredPair]) -> tuple[list[Pair], tuple[str, ...]]:
    evidence = [evidence_of(pair) for pair in spoken]
    return instrument_corrections.correct(work, spoken, evidence)


def evidence_of(pair: StoredPair) -> Pair:
    """A stored pair as the engine takes it."""
    return Pair(
        temp_k=pair.temp_k,
        pressure_pa=pair.pressure_pa,
        temp_noise_k=pair.temp_noise_k,
        pressure_noise_pa=pair.pressure_noise_pa,
        temp_bias_k=pair.temp_bias_k,
        pressure_bias_pa=pair.pressure_bias_pa,
        atmosphere_bias_pa=pair.atmosphere_bias_pa,
        atmosphere_pa=pair.atmosphere_pa,
        temperature_device=pair.temperature_device,
        pressure_device=pair.pressure_device,
    )


def facts_of(work: Work, cylinder: Cylinder, epoch: int) -> CylinderFacts:
    """
    What is known of a cylinder besides its pairs.

    A weighing counts from within the epoch alone. A label counts as evidence only where it was there before anything
    was measured and was never changed: one that was typed later is what somebody concluded.
    """
    begun = stored_cylinders.epoch_of(work, cylinder, epoch)
    kept, label = beliefs.kept(cylinder, begun), cylinder.claimed_designation
    by_record = kept.carried is None or all(one.source is Source.RECORD for one in kept.carried.contents)
    weighed = cylinder.gross_mass_at is not None and cylinder.gross_mass_at >= begun.started_at
    volume = None if cylinder.water_capacity_kg is None else water_volume_m3(cylinder.water_capacity_kg)
    net = cylinder.net_mass_kg if weighed else None
    seen, provenance = observing.recorded(work, cylinder, epoch)
    return CylinderFacts(
        water_volume_m3=volume,
        # At the tare it was empty: what a reading shows has come in since, unweighed.
        net_mass_kg=net if net is not None and net > 0 else None,
        claimed_designation=label,
        claim_reliability=None if kept.claims == (label,) else 0.0,
        history=truths.counts(work, besides=cylinder.id),
        recorded_contents=(begun.contents or {}).get("masses_kg", {}),
        vapour_lost_fraction=(begun.contents or {}).get("vapour_lost_fraction") or None,
        carried=() if by_record or kept.carried is None else beliefs.believed_of(kept.carried),
        observations=seen,
        provenance=provenance or ("records" if by_record and _unbroken(begun) else "unknown"),
    )


def _unbroken(begun: Epoch) -> bool:
    """Whether the record has all that was put in since the cylinder was empty."""
    document = begun.contents or {}
    return (
        bool(document.get("masses_kg"))
        and document.get("basis") == "record"
        and UNKNOWN not in document["shares"]
    )


def _told(cylinder: Cylinder, verdict: StoredVerdict, advice: Advice) -> Mapping[str, Any]:
    return {
        "cylinder": cylinder.serial,
        "verdict": verdict.id,
        "identity": verdict.identity_finding,
        "designation": verdict.designation,
        "probability": verdict.probability,
        "contamination": verdict.contamination_finding,
        "contents_state": verdict.contents_finding,
        "disposition": advice.disposition,
        "advice": advice.code,
    }
