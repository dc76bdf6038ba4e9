"""Alarms: those that nobody has seen first, then those being looked after, then what is over."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from service.board import phrases
from service.board.views.cards import LEVEL_OF
from service.board.views.rack import LEVELS
from service.store.alarms import Alarm


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
class Group:
    """Alarms under one heading."""

    key: str
    title: str
    alarms: tuple[AlarmRow, ...]


@dataclass(frozen=True, slots=True)
class AlarmsPage:
    """The page."""

    groups: tuple[Group, ...]
    summary: str


def alarms_page(alarms: Sequence[Alarm]) -> AlarmsPage:
    """Part and order alarms."""
    rows = sorted((_row(a) for a in alarms), key=lambda r: (LEVELS.index(r.level), -r.raised_at.timestamp()))
    open_ = tuple(r for r in rows if r.cleared_at is None and r.acknowledged_at is None)
    seen = tuple(r for r in rows if r.cleared_at is None and r.acknowledged_at is not None)
    over = tuple(r for r in rows if r.cleared_at is not None)
    groups = (
        Group("open", "Seen by nobody yet", open_),
        Group("seen", "Being looked after", seen),
        Group("over", "Over", over),
    )
    summary = f"{len(open_)} seen by nobody yet, {len(seen)} being looked after" if open_ or seen else ""
    return AlarmsPage(tuple(g for g in groups if g.alarms), summary)


def _row(alarm: Alarm) -> AlarmRow:
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
