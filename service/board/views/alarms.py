"""Causes that need somebody, counted: dangers one by one on top, everything else one line a cause."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from service.board import phrases
from service.board.views.cards import LEVEL_OF
from service.cylinders.judgement.causes import ENDS, Kind
from service.store.alarms import Alarm, CauseCount


@dataclass(frozen=True, slots=True)
class AlarmRow:
    """One alarm as text."""

    id: int
    level: str
    text: str
    serial: str | None
    device: str | None
    raised_at: datetime
    acknowledged_at: datetime | None
    acknowledged_by: str
    cleared_at: datetime | None
    judged_anew: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class CauseRow:
    """One cause with how many stand under it; ``alarms`` are shown where it is open."""

    code: str
    level: str
    title: str
    ends: str
    count: int
    oldest: str
    seen: str
    unseen: int
    alarms: tuple[AlarmRow, ...] = ()
    next: int | None = None
    is_open: bool = False


@dataclass(frozen=True, slots=True)
class AlarmsPage:
    """The page."""

    dangers: tuple[AlarmRow, ...]
    more_dangers: int
    causes: tuple[CauseRow, ...]
    over: tuple[AlarmRow, ...]
    summary: str


@dataclass(frozen=True, slots=True)
class Opened:
    """The cause that somebody opened, with one page of its alarms."""

    code: str
    alarms: Sequence[Alarm]
    next: int | None


MONTH = 60 * 24 * 30
AGES = ((MONTH, "1 month", "{} months"), (60 * 24, "1 day", "{} days"), (60, "1 hour", "{} hours"))


def alarms_page(
    counts: Sequence[CauseCount],
    dangers: Sequence[Alarm],
    over: Sequence[Alarm],
    opened: Opened,
    now: datetime,
) -> AlarmsPage:
    """Part and order what needs somebody."""
    critical = sum(one.count for one in counts if one.severity == "critical")
    milder = [one for one in counts if one.severity != "critical"]
    causes = tuple(_cause(one, opened, now) for one in sorted(milder, key=_order))
    total = sum(one.count for one in counts)
    kinds = len({one.code for one in counts})
    needing = "1 needs somebody" if total == 1 else f"{total:,} need somebody"
    summary = f"{needing}, {'1 cause' if kinds == 1 else f'{kinds} causes'}"
    rows = tuple(row(alarm) for alarm in sorted(dangers, key=lambda one: one.raised_at))
    return AlarmsPage(rows, critical - len(rows), causes, tuple(map(row, over)), summary if total else "")


def _order(one: CauseCount) -> tuple[bool, datetime]:
    return one.severity == "notice", one.oldest_at


def _cause(one: CauseCount, opened: Opened, now: datetime) -> CauseRow:
    is_open = opened.code == one.code
    shown = [alarm for alarm in opened.alarms if alarm.severity != "critical"] if is_open else []
    return CauseRow(
        code=one.code,
        level=LEVEL_OF.get(one.severity, "attention"),
        title=phrases.ALARMS.get(one.code, one.code.replace("-", " ").capitalize()),
        ends=ENDS[Kind(one.code)] if one.code in set(Kind) else "",
        count=one.count,
        oldest=age(now - one.oldest_at),
        seen="nobody"
        if not one.seen
        else f"all {one.count}"
        if one.seen == one.count
        else f"{one.seen} of {one.count}",
        unseen=one.count - one.seen,
        alarms=tuple(map(row, shown)),
        next=opened.next if is_open else None,
        is_open=is_open,
    )


def age(since: timedelta) -> str:
    """Say how long ago, in the largest unit that leaves a whole number."""
    minutes = int(since.total_seconds() // 60)
    for size, one, many in AGES:
        if minutes >= 2 * size or (minutes >= size and size != MONTH):
            number = minutes // size
            return one if number == 1 else many.format(number)
    return f"{minutes} min"


def row(alarm: Alarm) -> AlarmRow:
    """One alarm in words."""
    return AlarmRow(
        id=alarm.id,
        level=LEVEL_OF.get(alarm.severity, "attention"),
        text=phrases.alarm(alarm.code, alarm.text, alarm.cylinder),
        serial=alarm.cylinder,
        device=alarm.device,
        raised_at=alarm.raised_at,
        acknowledged_at=alarm.acknowledged_at,
        acknowledged_by=phrases.actor(alarm.acknowledged_by or ""),
        cleared_at=alarm.cleared_at,
        judged_anew=tuple(_anew(one) for one in (alarm.details or {}).get("judged_anew", ())),
    )


def _anew(one: Mapping[str, str]) -> str:
    """Say what became of one verdict."""
    before, after = one["before"], one["after"]
    return (
        f"{one['cylinder']}: {after}, as before"
        if before == after
        else f"{one['cylinder']}: {after}; was {before}"
    )
