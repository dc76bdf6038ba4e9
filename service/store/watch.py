"""What health and metrics ask of the whole installation: counts and ages, no organisation's rows."""

from dataclasses import dataclass
from datetime import datetime

import sqlalchemy as sa

from service.store.tables import alarms, hookups, live, pairs, places, verdicts, webhooks


@dataclass(frozen=True, slots=True)
class AttachedPlace:
    """A place with active hookups, and when the newest of them began."""

    organisation_id: int
    place: str
    hookups: int
    attached_at: datetime


def attached_places(connection: sa.Connection) -> list[AttachedPlace]:
    """Every place that has active hookups."""
    statement = (
        sa.select(places.c.organisation_id, places.c.name, sa.func.count(), sa.func.max(hookups.c.from_at))
        .select_from(hookups.join(places, places.c.id == hookups.c.place_id))
        .where(hookups.c.to_at.is_(None))
        .group_by(places.c.organisation_id, places.c.name)
    )
    return [AttachedPlace(*row) for row in connection.execute(statement)]


def settling_states(connection: sa.Connection) -> dict[str, int]:
    """How many active hookups are in each settling state."""
    joined = live.join(hookups, hookups.c.id == live.c.hookup_id)
    statement = (
        sa.select(live.c.settling_state, sa.func.count())
        .select_from(joined)
        .where(hookups.c.to_at.is_(None))
        .group_by(live.c.settling_state)
    )
    return {str(state): int(count) for state, count in connection.execute(statement)}


def open_alarms(connection: sa.Connection) -> dict[tuple[str, str], int]:
    """How many alarms stand, by code and severity."""
    statement = (
        sa.select(alarms.c.code, alarms.c.severity, sa.func.count())
        .where(alarms.c.cleared_at.is_(None))
        .group_by(alarms.c.code, alarms.c.severity)
    )
    return {(str(code), str(severity)): int(n) for code, severity, n in connection.execute(statement)}


def newest_ids(connection: sa.Connection) -> tuple[int, int]:
    """The ids of the newest pair and the newest verdict: both tables only grow, so these count them."""
    newest = sa.select(
        sa.select(sa.func.coalesce(sa.func.max(pairs.c.id), 0)).scalar_subquery(),
        sa.select(sa.func.coalesce(sa.func.max(verdicts.c.id), 0)).scalar_subquery(),
    )
    pair, verdict = connection.execute(newest).one()
    return int(pair), int(verdict)


def enabled_webhooks(connection: sa.Connection) -> tuple[int, int]:
    """How many subscriptions are enabled, and how many were disabled."""
    statement = sa.select(sa.func.count(), sa.func.count(webhooks.c.disabled_at))
    everything, disabled = connection.execute(statement).one()
    return int(everything) - int(disabled), int(disabled)
