"""What follows from a lesson: the alarm of a set that has left its class, and verdicts that are to be reached again."""

from datetime import datetime
from typing import Final

from service.codes import AlarmCode, Severity
from service.device_names import short
from service.operations.support.context import Actor, tell
from service.operations.support.events import ALARM_CLEARED, ALARM_RAISED
from service.store import alarms, instruments, rejudgements
from service.store.instruments import StoredError
from service.store.work import Work
from service.verdict.instruments.belief import DOUBTED, unchecked
from service.verdict.instruments.document import from_json

LISTED: Final = 20
LEAST_PAIRS: Final = 1.5
"""One cylinder alone accuses no instrument: its label may be wrong."""
MOVED_K: Final = 0.3
"""Verdicts are reached again when what a set is believed to be off by has moved by so much since they last were: as
much as a good clamp may be off (a judgement) [K]."""
SURER: Final = 0.5
"""Or when it is known that much better: its standard uncertainty, of what it was then (a judgement) [-]."""
AGAIN: Final = 50
"""So many of the cylinders that it read last are judged again for that; an alarm or a check asks for all."""


def review(work: Work, actor: Actor, at: datetime, row: StoredError) -> None:
    """
    Raise an alarm where a set has come into doubt, and clear it where it has come out again.

    Either way the verdicts that rest on the set are to be reached again where a check by hand settled what it is off
    by, or where that has moved.
    """
    open_ones = [
        alarm
        for alarm in alarms.open_ones(work, device=row.thermometer)
        if alarm.code == AlarmCode.INSTRUMENT_IN_DOUBT and (alarm.details or {}).get("gauge") == row.gauge
    ]
    grounded = row.check_id is not None or from_json(row.belief).pairs >= LEAST_PAIRS
    if row.doubt >= DOUBTED and grounded and not open_ones:
        _raise(work, actor, at, row)
        return
    if row.doubt < DOUBTED / 2:
        for alarm in open_ones:
            alarms.clear(work, alarm.id, at)
            told = {
                "alarm": alarm.id,
                "code": AlarmCode.INSTRUMENT_IN_DOUBT,
                "severity": alarm.severity,
                "text": alarm.text,
            }
            tell(work, actor, at, ALARM_CLEARED, f"instruments/{row.thermometer}", told)
    if row.check_id is not None:
        _ask(work, row, at, alarm_id=None, limit=None)
    elif _moved(work, row):
        _ask(work, row, at, alarm_id=None, limit=AGAIN)


def _moved(work: Work, row: StoredError) -> bool:
    """Whether a set is believed to be off by something else than when its verdicts were last reached again."""
    asked = instruments.newest_asked(work, row.thermometer, row.gauge)
    before_k, spread_k = unchecked(from_json(row.belief).grade).combined_k()
    if asked is not None:
        before_k, spread_k = asked.combined_k, asked.uncertainty_k
    return abs(row.combined_k - before_k) >= MOVED_K or row.uncertainty_k <= SURER * spread_k


def _ask(work: Work, row: StoredError, at: datetime, *, alarm_id: int | None, limit: int | None) -> None:
    """Let the cylinders wait whose verdicts rest on a set; the one that taught it just now is judged anyway."""
    instruments.note_asked(work, row.id)
    besides = row.cylinder_id if alarm_id is None else None
    rejudgements.ask(work, row.thermometer, row.gauge, alarm_id=alarm_id, at=at, besides=besides, limit=limit)


def _raise(work: Work, actor: Actor, at: datetime, row: StoredError) -> None:
    text = doubt_text(row)
    rested = instruments.cylinders_read(work, row.thermometer, row.gauge, limit=LISTED)
    details = {
        "thermometer": row.thermometer,
        "gauge": row.gauge,
        "combined_k": round(row.combined_k, 3),
        "uncertainty_k": round(row.uncertainty_k, 3),
        "cylinders": rested,
    }
    alarm_id = alarms.insert(
        work,
        code=AlarmCode.INSTRUMENT_IN_DOUBT,
        severity=Severity.WARNING,
        cylinder_id=None,
        device=row.thermometer,
        text=text,
        details=details,
        raised_at=at,
    )
    _ask(work, row, at, alarm_id=alarm_id, limit=None)
    told = {
        "alarm": alarm_id,
        "code": AlarmCode.INSTRUMENT_IN_DOUBT,
        "severity": Severity.WARNING,
        "text": text,
        "device": row.thermometer,
    }
    told["details"] = {**details, "cylinders": ", ".join(rested)}
    tell(work, actor, at, ALARM_RAISED, f"instruments/{row.thermometer}", told)


def doubt_text(row: StoredError) -> str:
    """What is wrong with a set and what to check first, in words."""
    thermometer, gauge = short(row.thermometer), short(row.gauge)
    which = " or ".join(short(one) for one in accused(row))
    high = "high" if row.combined_k > 0 else "low"
    return (
        f"{which} is off by more than its class allows: {thermometer} with {gauge} reads about "
        f"{abs(row.combined_k):.1f} K ({1.8 * abs(row.combined_k):.1f} °F) {high}. Check {thermometer} in crushed ice "
        f"and water, and the zero of {gauge}."
    )


def accused(row: StoredError) -> tuple[str, ...]:
    """Which device of a set in doubt it is: the one, or both where readings cannot tell."""
    belief = from_json(row.belief)
    if belief.thermometer_doubt >= DOUBTED > belief.gauge_doubt:
        return (row.thermometer,)
    if belief.gauge_doubt >= DOUBTED > belief.thermometer_doubt:
        return (row.gauge,)
    return row.thermometer, row.gauge
