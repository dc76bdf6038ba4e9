"""Raise and clear the alarm of a set that has left its class, with the cylinders whose verdicts rest on it."""

from datetime import datetime
from typing import Final

from service.codes import AlarmCode, Severity
from service.device_names import short
from service.operations.support.context import Actor, tell
from service.operations.support.events import ALARM_CLEARED, ALARM_RAISED
from service.store import alarms, instruments, rejudgements
from service.store.instruments import StoredError
from service.store.work import Work
from service.verdict.instruments.belief import DOUBTED
from service.verdict.instruments.document import from_json

LISTED: Final = 20
LEAST_PAIRS: Final = 1.5
"""One cylinder alone accuses no instrument: its label may be wrong."""


def review(work: Work, actor: Actor, at: datetime, row: StoredError) -> None:
    """Raise an alarm where a set has come into doubt, clear it where it has come out again."""
    open_ones = [
        alarm
        for alarm in alarms.open_ones(work, device=row.thermometer)
        if alarm.code == AlarmCode.INSTRUMENT_IN_DOUBT and (alarm.details or {}).get("gauge") == row.gauge
    ]
    grounded = row.check_id is not None or from_json(row.belief).pairs >= LEAST_PAIRS
    if row.doubt >= DOUBTED and grounded and not open_ones:
        _raise(work, actor, at, row)
    elif row.doubt < DOUBTED / 2:
        for alarm in open_ones:
            alarms.clear(work, alarm.id, at)
            told = {
                "alarm": alarm.id,
                "code": AlarmCode.INSTRUMENT_IN_DOUBT,
                "severity": alarm.severity,
                "text": alarm.text,
            }
            tell(work, actor, at, ALARM_CLEARED, f"instruments/{row.thermometer}", told)


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
    rejudgements.ask(work, row.thermometer, row.gauge, alarm_id=alarm_id, at=at)
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
    belief = from_json(row.belief)
    thermometer, gauge = short(row.thermometer), short(row.gauge)
    which = f"{thermometer} or {gauge}"
    if belief.thermometer_doubt >= DOUBTED > belief.gauge_doubt:
        which = thermometer
    elif belief.gauge_doubt >= DOUBTED > belief.thermometer_doubt:
        which = gauge
    high = "high" if row.combined_k > 0 else "low"
    return (
        f"{which} is off by more than its class allows: {thermometer} with {gauge} reads about "
        f"{abs(row.combined_k):.1f} K ({1.8 * abs(row.combined_k):.1f} °F) {high}. Check the zero of {gauge} and "
        f"{thermometer} in crushed ice and water."
    )
