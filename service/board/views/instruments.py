"""Instruments: what each is off by and how that is known, in words, with the control chart of each of its sets."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from service.board.control_chart import ControlChart, Lesson, control_chart
from service.board.quantities import Quantities
from service.device_names import short
from service.operations.alarm_of_instruments import accused, doubt_text
from service.operations.instruments import Instrument, SetError
from service.store.instruments import StoredCheck, StoredError
from service.verdict.evidence import REFERENCE_SLOPE_PER_K
from service.verdict.instruments.belief import DOUBTED, LIMIT, TYPICAL_PA

METHODS = {
    "ice-bath": "crushed ice and water",
    "open-air": "open to the air",
    "reference": "beside a reference instrument",
    "certificate": "calibration certificate",
    "open-air-idle": "hung open to the air while nobody used it",
    "shelf": "beside other thermometers while nobody used it",
}
LEAST_TOLD_K = 0.05
"""A smaller error is not told as one [K]."""
Course = Mapping[tuple[str, str], Sequence[StoredError]]


@dataclass(frozen=True, slots=True)
class SetRow:
    """One set as text."""

    other: str
    off: str
    learned: str
    doubt: str
    elsewhere: str
    chart: ControlChart | None
    chart_words: str


@dataclass(frozen=True, slots=True)
class CheckRow:
    """One check as text."""

    text: str
    at: datetime
    by: str


@dataclass(frozen=True, slots=True)
class InstrumentView:
    """One instrument as text."""

    name: str
    short_name: str
    sets: tuple[SetRow, ...]
    in_doubt: bool
    last: CheckRow | None
    due_at: datetime | None
    overdue: bool
    checks: tuple[CheckRow, ...] = ()


def instrument(
    one: Instrument, show: Quantities, course: Course | None = None, checks: Sequence[StoredCheck] = ()
) -> InstrumentView:
    """Write one instrument."""
    sets = tuple(_set(each, one.device, show, (course or {}).get(_key(each), ())) for each in one.sets)
    return InstrumentView(
        name=one.device,
        short_name=short(one.device),
        sets=sets,
        in_doubt=any(row.doubt for row in sets),
        last=None if one.last_check is None else _check(one.last_check, show),
        due_at=one.due_at,
        overdue=one.overdue,
        checks=tuple(_check(done, show) for done in checks),
    )


def _key(one: SetError) -> tuple[str, str]:
    return one.row.thermometer, one.row.gauge


def _set(one: SetError, device: str, show: Quantities, course: Sequence[StoredError]) -> SetRow:
    row, belief, doubted = one.row, one.belief, one.row.doubt >= DOUBTED
    other = row.gauge if device == row.thermometer else row.thermometer
    pairs = round(belief.pairs)
    read = (
        "no settled reading"
        if pairs == 0
        else "1 settled reading"
        if pairs == 1
        else f"{pairs} settled readings"
    )
    off = _off(row, show)
    chart = control_chart([_lesson(lesson) for lesson in course], _limit_k(one), show)
    return SetRow(
        other=short(other),
        off=off,
        learned=f"learned from {read}{' and checks' if any(lesson.check_id for lesson in course) else ''}",
        doubt=doubt_text(row) if doubted and device in accused(row) else "",
        elsewhere=f"It is {short(other)} that is in doubt." if doubted and device not in accused(row) else "",
        chart=chart,
        chart_words=f"Believed error of {row.thermometer} with {row.gauge} over time, now {off}",
    )


def _off(row: StoredError, show: Quantities) -> str:
    """How far it reads high or low, and how sure that is."""
    spread = show.span(1.96 * row.uncertainty_k)
    if abs(row.combined_k) < LEAST_TOLD_K:
        return f"reads true, ± {spread}"
    size = show.kelvins(abs(row.combined_k)).removeprefix("+")
    return f"reads {size} {'high' if row.combined_k > 0 else 'low'}, ± {spread}"


def _limit_k(one: SetError) -> float:
    """Where the class of a set ends, as a temperature [K]."""
    grade = one.belief.grade
    gauge = math.hypot(grade.zero_pa / TYPICAL_PA, grade.gain) / REFERENCE_SLOPE_PER_K
    return LIMIT * math.hypot(grade.temp_k, gauge)


def _lesson(row: StoredError) -> Lesson:
    return Lesson(row.at, row.combined_k, 1.96 * row.uncertainty_k, row.check_id is not None)


def _check(done: StoredCheck, show: Quantities) -> CheckRow:
    if done.quantity == "temperature_k":
        off = f"{show.kelvins(done.error, done.uncertainty)} off"
    else:
        off = f"{show.pressure(done.error, done.uncertainty)} off"
    number = f", certificate {done.certificate}" if done.certificate else ""
    return CheckRow(
        f"{METHODS.get(done.method, done.method)}: {off}{number}", done.checked_at, done.recorded_by
    )
