"""Pairs less what their instruments were off by when they were read, and what was done in words."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from service.device_names import short
from service.operations.instrument_errors import as_check
from service.store import instruments
from service.store.instruments import StoredError
from service.store.pairs import StoredPair
from service.store.work import Work
from service.verdict.instruments import belief as beliefs
from service.verdict.instruments.belief import ErrorBelief
from service.verdict.instruments.classes import InstrumentClass
from service.verdict.instruments.correction import corrected, share
from service.verdict.instruments.document import from_json, seen_from_json
from service.verdict.instruments.earlier import Lesson, as_of
from service.verdict.model import Pair, Verdict

LOOKED_AT: Final = 15
"""So many lessons of a set, from the first that a cylinder taught it, are gone through for that cylinder's pairs: some
10 ms each, and by then a set is known nearly as well as it will be."""
KNOWN: Final = 0.5
"""From so many settled pairs on they are counted in words [-]."""
SHOWN_K: Final = 0.05
"""A smaller error is not told while nothing was learned [K]."""


@dataclass(frozen=True, slots=True)
class Course:
    """
    What a set has learned since just before a cylinder taught it.

    Parameters
    ----------
    begun, begun_s
        What was believed until then, and as of when [s].
    others
        Lessons since, those of this cylinder left out.
    everything
        The same with them.
    newest
        What is believed now; taken where an old lesson was kept without what it told.
    """

    begun: ErrorBelief
    begun_s: float
    others: tuple[Lesson, ...]
    everything: tuple[Lesson, ...]
    newest: ErrorBelief | None

    def lessons_until(self, at_s: float) -> int:
        """How many lessons there were until a time."""
        return sum(one.at_s <= at_s for one in self.everything)

    def without(self, at_s: float) -> ErrorBelief:
        """What the set was off by at a time, by everything but this cylinder."""
        return as_of(self.begun, self.begun_s, self.others, at_s)

    def aware(self, at_s: float) -> ErrorBelief:
        """The same with this cylinder."""
        return self.newest or as_of(self.begun, self.begun_s, self.everything, at_s)


def correct(
    work: Work, spoken: Sequence[StoredPair], evidence: Sequence[Pair]
) -> tuple[list[Pair], tuple[str, ...]]:
    """
    Pairs less what their sets are believed to have been off by when they were read, and what was done in words.

    That is by all that taught the set before and since, this cylinder left out, so that a cylinder never vouches for
    itself. What this cylinder taught makes its pairs less certain and moves nothing.
    """
    found: dict[tuple[str, str], Course | None] = {}
    believed: dict[tuple[str, str, int], tuple[ErrorBelief, ErrorBelief]] = {}
    taken: list[Pair] = []
    told: dict[tuple[str, str], str] = {}
    for pair, one in zip(spoken, evidence, strict=True):
        thermometer, gauge = pair.temperature_device, pair.pressure_device
        if thermometer is None or gauge is None:
            taken.append(one)
            continue
        key = (thermometer, gauge)
        if key not in found:
            found[key] = _course(work, pair, *key)
        course = found[key]
        if course is None:
            taken.append(one)
            continue
        at_s = pair.settled_at.timestamp()
        # Between two lessons nothing was learned: the pairs of one hookup share what is believed.
        between = (thermometer, gauge, course.lessons_until(at_s))
        if between not in believed:
            believed[between] = course.without(at_s), course.aware(at_s)
        belief, aware = believed[between]
        moved = corrected(one, belief, aware)
        taken.append(moved)
        told[key] = _told(key, belief, moved)
    return taken, tuple(told.values())


def believed_without(work: Work, pair: StoredPair, grade: InstrumentClass) -> ErrorBelief:
    """What the set of a pair was off by when it was read, by everything but that cylinder."""
    thermometer, gauge, course = pair.temperature_device, pair.pressure_device, None
    if thermometer is not None and gauge is not None:
        course = _course(work, pair, thermometer, gauge)
    return beliefs.unchecked(grade) if course is None else course.without(pair.settled_at.timestamp())


def _course(work: Work, pair: StoredPair, thermometer: str, gauge: str) -> Course | None:
    """What a set learned before and since a pair; None where this cylinder alone has taught it, and only by itself."""
    own = instruments.lesson_of(work, thermometer, gauge, pair.cylinder_id, pair.epoch)
    if own is None:
        before = instruments.at(work, thermometer, gauge, pair.settled_at)
        first = 0 if before is None else before.id + 1
    else:
        before, first = instruments.newest(work, thermometer, gauge, before=own.id), own.id
    rows = instruments.since(work, thermometer, gauge, first, limit=LOOKED_AT)
    if before is None and (not rows or rows[-1] == own):
        return None
    lessons = _lessons(work, rows)
    begun = before or rows[0]
    belief = from_json(begun.belief)
    unkept = own is not None and own.seen is None
    newest = instruments.newest(work, thermometer, gauge) if unkept else None
    return Course(
        belief if before else beliefs.unchecked(belief.grade),
        begun.at.timestamp(),
        tuple(one for row, one in lessons if (row.cylinder_id, row.epoch) != (pair.cylinder_id, pair.epoch)),
        tuple(one for _, one in lessons),
        None if newest is None else from_json(newest.belief),
    )


def _lessons(work: Work, rows: Sequence[StoredError]) -> list[tuple[StoredError, Lesson]]:
    """What each row told: a check, or a pair where it first did, with what is known of its contents by now."""
    checks = instruments.checks_by_id(work, [row.check_id for row in rows if row.check_id is not None])
    seen = instruments.seen_by_pair(work, [row.pair_id for row in rows if row.pair_id is not None])
    found = []
    for row in rows:
        at_s = row.at.timestamp()
        if row.check_id in checks:
            found.append((row, Lesson(at_s, as_check(checks[row.check_id]))))
        elif row.pair_id in seen and seen[row.pair_id].first == row.id:
            found.append((row, Lesson(at_s, seen_from_json(seen[row.pair_id].newest))))
    return found


def _told(key: tuple[str, str], belief: ErrorBelief, moved: Pair) -> str:
    thermometer, gauge = short(key[0]), short(key[1])
    part = share(moved)
    off_k, spread_k = belief.combined_k()
    of_gauge = f"{100 * part.gauge:.0f} % the gauge's"
    left = f"Of the uncertainty left, {100 * part.thermometer:.0f} % is the thermometer's and {of_gauge}."
    if belief.pairs < KNOWN and abs(off_k) < SHOWN_K:
        return (
            f"How far {thermometer} with {gauge} is off is not known yet; it is taken as ± {1.96 * part.total_k:.1f} K "
            f"({1.8 * 1.96 * part.total_k:.1f} °F). {left}"
        )
    high = "high" if off_k > 0 else "low"
    return (
        f"{thermometer} with {gauge} reads {abs(off_k):.2f} K ({1.8 * abs(off_k):.2f} °F) {high}, as learned from "
        f"{_lessons_in_words(belief.pairs)}, ± {1.96 * spread_k:.2f} K; corrected for. {left}"
    )


def _lessons_in_words(pairs: float) -> str:
    if pairs < KNOWN:
        return "checks"
    return "1 settled pair and checks" if round(pairs) == 1 else f"{pairs:.0f} settled pairs and checks"


def with_reasons(found: Verdict, lines: Sequence[str]) -> Verdict:
    """A verdict that tells what was corrected."""
    return replace(found, reasons=(*found.reasons, *lines)) if lines else found
