"""The technician's first page: where he is, his gauge set, the worst thing there, and what he is about to do."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from service.board import phrases
from service.board.quantities import Quantities
from service.board.views.cards import LEVEL_OF
from service.board.views.devices import MEASURES, short, value_text
from service.board.views.hookup import TOO_OLD
from service.board.views.recovery import Calling
from service.cylinders.judgement.causes import Kind
from service.cylinders.judgement.permits import Act
from service.operations.recovery_state import Course
from service.operations.support.judgements import Judged
from service.store.alarms import Alarm
from service.store.devices import Device

SEVERITIES = ("critical", "warning", "notice")
ESCAPING = (Kind.BOILING_OFF, Kind.LEAK)
"""What is told of a cylinder that loses refrigerant leads to what to do first."""


@dataclass(frozen=True, slots=True)
class GaugeSet:
    """His gauge and clamp: what they are called, what they say, and the cylinder that they are on."""

    name: str
    values: str
    serial: str | None


@dataclass(frozen=True, slots=True)
class Attention:
    """The worst that stands where he is, and how many more there are."""

    level: str
    text: str
    serial: str | None
    escaping: bool
    more: str


@dataclass(frozen=True, slots=True)
class GoingOn:
    """A recovery that he has begun."""

    id: int
    name: str
    into: str
    text: str


def gauge_set(
    gauge: Device | None, clamp: Device | None, serial: str | None, now: datetime, show: Quantities
) -> GaugeSet | None:
    """Write what his set says now; None where he has none, or it is no longer heard of."""
    if gauge is None or clamp is None or gauge.retired or clamp.retired:
        return None
    told = [
        value_text(name, float(device.readings[name]["value"]), show)
        for device, measure in ((clamp, "temperature"), (gauge, "pressure"))
        for name in MEASURES[measure]
        if name in device.readings
    ]
    passed = now - min(gauge.heard_at, clamp.heard_at)
    minutes = round(passed.total_seconds() / 60.0)
    told.append("now" if passed <= TOO_OLD else f"{minutes} min old")
    return GaugeSet(gauge.called or short(gauge.name), ", ".join(told), serial)


def attention(alarms: Sequence[Alarm]) -> Attention | None:
    """Take the worst alarm, the oldest of those; the others are counted."""
    if not alarms:
        return None
    worst = min(alarms, key=lambda one: (SEVERITIES.index(one.severity), one.raised_at))
    more = len(alarms) - 1
    return Attention(
        LEVEL_OF.get(worst.severity, "attention"),
        phrases.ALARMS.get(worst.code) or phrases.alarm(worst.code, worst.text, worst.cylinder),
        worst.cylinder,
        worst.code in ESCAPING,
        "" if not more else "1 more" if more == 1 else f"{more} more",
    )


def going_on(course: Course, call: Calling | None) -> GoingOn:
    """Write a recovery that waits for its hand."""
    name = (
        course.recovery.equipment.get("appliance")
        or course.recovery.equipment.get("location")
        or f"#{course.recovery.id}"
    )
    into = "" if course.now is None else course.now.fill.cylinder
    text = "No cylinder is on" if call is None else f"Stop at {call.stop_at} gross"
    return GoingOn(course.recovery.id, name, into, text)


def room(here: Sequence[Judged]) -> str:
    """Say how many cylinders of a place may be filled."""
    number = sum(one.judgement.permits[Act.FILL].allowed for one in here)
    if number == 1:
        return "1 cylinder here has room"
    return f"{number} cylinders here have room" if number else "No cylinder here has room"


def may_go(here: Sequence[Judged]) -> list[Judged]:
    """Give those that may be handed over, to a reclaimer or for destruction."""
    acts = (Act.RECLAIM, Act.DESTRUCTION)
    return [one for one in here if any(one.judgement.permits[act].allowed for act in acts)]


def leaving(here: Sequence[Judged]) -> str:
    """Say how many cylinders of a place may be handed over."""
    number = len(may_go(here))
    if number == 1:
        return "1 cylinder here may go"
    return f"{number} cylinders here may go" if number else "No cylinder here may go"
