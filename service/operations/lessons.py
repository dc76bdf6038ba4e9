"""What a cylinder teaches the set that read it: by label and record, by results, and by other instruments on it."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from typing import Final

from service.operations import instrument_corrections, instrument_errors, verdicts
from service.operations.alarm_of_instruments import review
from service.operations.support.context import Actor, Services
from service.store import analyses, instruments, pairs
from service.store import cylinders as stored
from service.store.analyses import Analysis
from service.store.cylinders import Cylinder
from service.store.instruments import StoredError
from service.store.pairs import StoredPair
from service.store.work import Work
from service.verdict.instruments import belief as beliefs
from service.verdict.instruments import checks, contents
from service.verdict.instruments.contents import Explanations
from service.verdict.instruments.document import from_json, seen_from_json
from service.verdict.model import CylinderFacts, Pair
from service.verdict.observations import LABORATORY_TRUST, LABORATORY_UNCERTAINTY, Composition, Observations

SEALED: Final = "sealed"
VOUCHING: Final = ("laboratory", "opened", SEALED)
"""Kinds of result that say what was in it; a reclaimer's word is of the batch."""
WITNESS_PAIRS, WITNESS_DOUBT = 3.0, 0.1
"""A set speaks for what is in a cylinder that another one reads once it has learned from so many settled pairs of
other contents, and while it is so little doubted (judgements): one that is off must not accuse one that is right."""
SURE: Final = 0.999
"""Trust in a result while it is asked how likely the readings are if it is right [-]."""
MOST_AGAIN: Final = 40
"""So many lessons of a set are gone through again when a result comes in; an older one is left as it was learned."""


def teach(services: Services, work: Work, actor: Actor, cylinder: Cylinder, pair: StoredPair) -> None:
    """Let a settled pair that may teach do so, before the verdict is reached with it."""
    if instrument_errors.may_teach(work, pair):
        instrument_errors.learn(services, work, actor, pair, _seen(services, work, cylinder, pair))


def result(services: Services, work: Work, actor: Actor, found: Analysis) -> None:
    """Let every set that had read the contents learn from them again, now that it turned out what they were."""
    if _composition(found) is None:
        return
    for own in instruments.lessons_of(work, found.cylinder_id, found.epoch):
        if not _speaks_of(found, own.at):
            continue
        later = instruments.since(work, own.thermometer, own.gauge, own.id, limit=MOST_AGAIN + 1)
        before = instruments.newest(work, own.thermometer, own.gauge, before=own.id)
        if len(later) <= MOST_AGAIN:
            _again(services, work, actor, own, before, later)


def trust(services: Services, work: Work, cylinder: Cylinder, found: Analysis) -> float:
    """
    How far a result is believed to be of this cylinder, after what each set had read of it before [-].

    A reading that a well-known set would hardly have shown of such contents speaks for a sample of another cylinder;
    one by a set that is known to be off by as much, or that may well be, does not.
    """
    told, odds = _composition(found), LABORATORY_TRUST / (1 - LABORATORY_TRUST)
    if told is None:
        return LABORATORY_TRUST
    sure, nothing = Observations(compositions=(replace(told, trust=SURE),)), Observations()
    facts = verdicts.facts_of(work, cylinder, found.epoch)
    for own in instruments.lessons_of(work, found.cylinder_id, found.epoch):
        pair = None if own.pair_id is None else pairs.by_id(work, own.pair_id)
        if pair is None or not _speaks_of(found, pair.settled_at):
            continue
        belief = instrument_corrections.believed_without(work, pair, from_json(own.belief).grade)
        right, wrong = (
            contents.likelihood(belief, _explained(services, work, pair, replace(facts, observations=seen)))
            for seen in (sure, nothing)
        )
        odds *= right / wrong
    return odds / (1 + odds)


def _again(
    services: Services,
    work: Work,
    actor: Actor,
    own: StoredError,
    before: StoredError | None,
    later: Sequence[StoredError],
) -> None:
    """Go through the lessons of a set again from one on, and keep what comes of it as one more."""
    grade = from_json(own.belief).grade
    belief = beliefs.unchecked(grade) if before is None else replace(from_json(before.belief), grade=grade)
    at = own.at if before is None else before.at
    told = instruments.seen_by_pair(
        work, [row.pair_id for row in later if row.pair_id not in (None, own.pair_id)]
    )
    seen: Explanations | None = None
    for row in later:
        belief = beliefs.aged(belief, (row.at - at).total_seconds())
        at = max(at, row.at)
        if row.check_id is not None:
            done = instruments.check_by_id(work, row.check_id)
            belief = belief if done is None else checks.learned(belief, instrument_errors.as_check(done))
        elif row.pair_id is not None and row.id == _first_of(later, row).id:
            kept = told.get(row.pair_id)
            found = seen_from_json(kept.newest) if kept else _seen_now(services, work, row.pair_id)
            seen = found if row.id == own.id else seen
            belief = belief if found is None else contents.learned(belief, found)
    once_more = instrument_errors.keep(
        work, own.thermometer, own.gauge, at, belief, pair_id=own.pair_id, cylinder_id=own.cylinder_id,
        epoch=own.epoch, seen=seen,
    )  # fmt: skip
    review(work, actor, services.now(), once_more)


def _first_of(rows: Sequence[StoredError], row: StoredError) -> StoredError:
    """A pair's first lesson: each one counts once, however often it was gone through."""
    return next(one for one in rows if one.pair_id == row.pair_id)


def _seen_now(services: Services, work: Work, pair_id: int) -> Explanations | None:
    """What a pair may be off by, by what is known of its cylinder now."""
    pair = pairs.by_id(work, pair_id)
    cylinder = None if pair is None else stored.by_id(work, pair.cylinder_id)
    return None if pair is None or cylinder is None else _seen(services, work, cylinder, pair)


def _seen(services: Services, work: Work, cylinder: Cylinder, pair: StoredPair) -> Explanations:
    """What a pair may be off by, under each of what the cylinder may hold."""
    return _explained(services, work, pair, _known(work, cylinder, pair))


def _explained(services: Services, work: Work, pair: StoredPair, facts: CylinderFacts) -> Explanations:
    return instrument_errors.explained(services, verdicts.evidence_of(pair), facts, _others(work, pair))


def _known(work: Work, cylinder: Cylinder, pair: StoredPair) -> CylinderFacts:
    """What is known without any reading, results included."""
    facts = verdicts.facts_of(work, cylinder, pair.epoch)
    if any(one.trust >= LABORATORY_TRUST for one in facts.observations.compositions):
        return facts
    results = analyses.of_epoch(work, pair.cylinder_id, pair.epoch)
    spoken = [one for one in results if _speaks_of(one, pair.settled_at)]
    found = [one for one in map(_composition, spoken) if one is not None][-1:]
    seen = replace(facts.observations, compositions=(*facts.observations.compositions, *found))
    return replace(facts, observations=seen)


def _speaks_of(found: Analysis, read_at: datetime) -> bool:
    """Whether a result tells what was in it at a reading: an earlier sample knows of nothing that was put in since.

    A maker's seal does.
    """
    return found.kind == SEALED or found.sampled_at >= read_at


def _composition(found: Analysis) -> Composition | None:
    """What a result says was in it; None where that is not told well enough to learn from."""
    if found.kind not in VOUCHING:
        return None
    parts = found.mass_fractions
    if parts is None and found.designation is not None and found.state in (None, "none", "air"):
        parts = {found.designation: 1.0}
    uncertainty = found.mass_fraction_uncertainty or LABORATORY_UNCERTAINTY
    return None if parts is None else Composition(parts, uncertainty, LABORATORY_TRUST)


def _others(work: Work, pair: StoredPair) -> list[Pair]:
    """Pairs of the same contents by other instruments that are known well, corrected for what those are off by."""
    own = {pair.temperature_device, pair.pressure_device, None}
    read = [
        one
        for one in pairs.speaking(work, pair.cylinder_id, pair.epoch)
        if not own & {one.temperature_device, one.pressure_device} and _is_known_well(work, one)
    ]
    evidence = [verdicts.evidence_of(one) for one in read]
    return instrument_corrections.correct(work, read, evidence)[0]


def _is_known_well(work: Work, pair: StoredPair) -> bool:
    """Whether the set that read a pair had learned enough from other contents to speak against another one."""
    thermometer, gauge = pair.temperature_device, pair.pressure_device
    if thermometer is None or gauge is None:
        return False
    lesson = instruments.lesson_of(work, thermometer, gauge, pair.cylinder_id, pair.epoch)
    before = instruments.newest(work, thermometer, gauge, before=None if lesson is None else lesson.id)
    return (
        before is not None
        and before.doubt <= WITNESS_DOUBT
        and from_json(before.belief).pairs >= WITNESS_PAIRS
    )
