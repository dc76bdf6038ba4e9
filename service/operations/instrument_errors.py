"""What is believed of the errors of instruments: learned with each settled pair and each check by hand."""

from collections.abc import Sequence
from datetime import datetime

from service.operations.alarm_of_instruments import review
from service.operations.support.context import Actor, Services
from service.operations.support.errors import FieldError, Invalid
from service.store import instruments
from service.store.instruments import StoredCheck, StoredError
from service.store.pairs import StoredPair
from service.store.work import Work
from service.verdict.errors import InvalidEvidence
from service.verdict.evidence import REFERENCE_SLOPE_PER_K
from service.verdict.instruments import belief as beliefs
from service.verdict.instruments import checks, contents
from service.verdict.instruments.belief import CYLINDER_FLOOR_K, ErrorBelief
from service.verdict.instruments.classes import InstrumentClass
from service.verdict.instruments.contents import Explanations
from service.verdict.instruments.document import from_json, seen_to_json, to_json
from service.verdict.model import CylinderFacts, Pair

UNSTATED_GAIN = 0.003
"""Gain of a gauge of which only the zero is stated (a judgement, no source) [-]."""


def may_teach(work: Work, pair: StoredPair) -> bool:
    """
    Whether a pair says anything new of the set that read it.

    Each contents of a cylinder teach a set once: its later pairs say the same again. A gauge that was read against
    an air pressure that nobody knows well learns nothing, for the air is not its error.
    """
    thermometer, gauge = pair.temperature_device, pair.pressure_device
    if pair.provisional or thermometer is None or gauge is None:
        return False
    if pair.atmosphere_bias_pa > CYLINDER_FLOOR_K * REFERENCE_SLOPE_PER_K * pair.pressure_pa:
        return False
    return instruments.lesson_of(work, thermometer, gauge, pair.cylinder_id, pair.epoch) is None


def learn(services: Services, work: Work, actor: Actor, pair: StoredPair, seen: Explanations) -> None:
    """Let a settled pair that may teach do so, in somebody else's transaction."""
    thermometer, gauge = pair.temperature_device, pair.pressure_device
    if thermometer is None or gauge is None:
        return
    before = _present(work, thermometer, gauge, _grade(pair), pair.settled_at)
    after = keep(
        work,
        thermometer,
        gauge,
        pair.settled_at,
        contents.learned(before, seen),
        pair_id=pair.id,
        cylinder_id=pair.cylinder_id,
        epoch=pair.epoch,
        seen=seen,
    )
    review(work, actor, services.now(), after)


def explained(
    services: Services, evidence: Pair, facts: CylinderFacts, others: Sequence[Pair] = ()
) -> Explanations:
    """
    What a pair may be off by, under each of what the cylinder may hold.

    Raises
    ------
    Invalid
        When no verdict can be built on the pair.
    """
    try:
        return services.judge.explanations(evidence, facts, others)
    except InvalidEvidence as error:
        raise Invalid(FieldError(error.field, error.value, error.expected)) from error


def check(work: Work, actor: Actor, now: datetime, done: StoredCheck) -> None:
    """Let a check by hand teach every set that the device belongs to."""
    for row in instruments.newest_of_all(work, done.device):
        if done.quantity == "temperature_k" and row.thermometer != done.device:
            continue
        if done.quantity != "temperature_k" and row.gauge != done.device:
            continue
        at = max(row.at, done.checked_at)
        older = beliefs.aged(from_json(row.belief), (at - row.at).total_seconds())
        after = checks.learned(older, as_check(done))
        review(work, actor, now, keep(work, row.thermometer, row.gauge, at, after, check_id=done.id))


def keep(
    work: Work,
    thermometer: str,
    gauge: str,
    at: datetime,
    belief: ErrorBelief,
    *,
    check_id: int | None = None,
    pair_id: int | None = None,
    cylinder_id: int | None = None,
    epoch: int | None = None,
    seen: Explanations | None = None,
) -> StoredError:
    """Keep what is believed of a set after a lesson."""
    mean, spread = belief.combined_k()
    return instruments.insert_error(
        work,
        thermometer=thermometer,
        gauge=gauge,
        at=at,
        check_id=check_id,
        pair_id=pair_id,
        cylinder_id=cylinder_id,
        epoch=epoch,
        belief=to_json(belief),
        combined_k=mean,
        uncertainty_k=spread,
        doubt=belief.doubt,
        seen=None if seen is None else seen_to_json(seen),
        asked=False,
    )


def _grade(pair: StoredPair) -> InstrumentClass:
    return InstrumentClass(pair.temp_bias_k, pair.pressure_bias_pa, UNSTATED_GAIN)


def _present(work: Work, thermometer: str, gauge: str, grade: InstrumentClass, at: datetime) -> ErrorBelief:
    """What is believed of a set at a time; a new one knows what its devices were checked for before."""
    row = instruments.newest(work, thermometer, gauge)
    if row is not None:
        return beliefs.aged(from_json(row.belief), (at - row.at).total_seconds())
    belief, since, last = beliefs.unchecked(grade), at, None
    for done in instruments.checks_of(work, [thermometer, gauge]):
        if (done.quantity == "temperature_k") != (done.device == thermometer) and thermometer != gauge:
            continue
        older = beliefs.aged(belief, 0.0 if last is None else (done.checked_at - since).total_seconds())
        belief, since, last = checks.learned(older, as_check(done)), done.checked_at, done.id
    if last is None:
        return belief
    belief = beliefs.aged(belief, (at - since).total_seconds())
    keep(work, thermometer, gauge, at, belief, check_id=last)
    return belief


def as_check(done: StoredCheck) -> checks.Check:
    """A stored check as the belief learns from it."""
    return checks.Check(done.quantity, done.error, done.uncertainty, done.pressure_pa or 0.0)
