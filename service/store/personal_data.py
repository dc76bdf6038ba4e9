"""Where a person's name stands: finding it and taking it out, table by table."""

from collections.abc import Iterator
from datetime import datetime
from typing import Any

import sqlalchemy as sa

from service.store.tables import (
    appliance_works,
    events,
    exchanges,
    identities,
    metadata,
    people,
    recoveries,
    transfers,
)
from service.store.work import Work

NAMED_RECORDS = (transfers, exchanges, appliance_works, recoveries)
"""Records that the law wants kept with the technician's name."""


def actor_columns() -> Iterator[tuple[sa.Table, sa.Column[Any]]]:
    """Every column that says who did something."""
    for table in metadata.sorted_tables:
        for column in table.columns:
            says_who = column.name.endswith("_by") and isinstance(column.type, sa.String)
            if table.info.get("owned") and (says_who or column is events.c.actor):
                yield table, column


def acted(work: Work, actor: str) -> dict[str, list[dict[str, Any]]]:
    """Every row that an actor is named in, by table."""
    found: dict[str, list[dict[str, Any]]] = {}
    for table, column in actor_columns():
        rows = work.connection.execute(work.select(table).where(column == actor)).mappings()
        known = found.setdefault(table.name, [])
        known.extend(dict(row) for row in rows if dict(row) not in known)
    return {name: rows for name, rows in found.items() if rows}


def rename_actor(work: Work, actor: str, pseudonym: str) -> int:
    """Put a pseudonym wherever an actor is named; answers how many times."""
    return sum(
        work.update(table, column == actor, **{column.name: pseudonym}) for table, column in actor_columns()
    )


def records_of(work: Work, technician: str) -> dict[str, list[dict[str, Any]]]:
    """The records that name a technician."""
    return {
        table.name: [
            dict(row)
            for row in work.connection.execute(
                work.select(table).where(table.c.technician == technician)
            ).mappings()
        ]
        for table in NAMED_RECORDS
    }


def unname_records(work: Work, technician: str, certification: str | None, before: datetime) -> int:
    """Take a technician's name out of records older than a moment; answers of how many."""
    removed = 0
    for table in NAMED_RECORDS:
        where = [table.c.technician == technician, table.c.occurred_at < before]
        values = {"technician": None}
        if "certification_number" in table.c:
            number = table.c.certification_number
            where.append(number.is_(None) | (number == certification))
            values["certification_number"] = None
        removed += work.update(table, *where, **values)
    return removed


def strip_person_events(work: Work, person_id: int) -> None:
    """The log keeps that an account was made and changed, without the name."""
    mine = work.select(events, events.c.id, events.c.data).where(events.c.subject == f"people/{person_id}")
    for event_id, data in work.connection.execute(mine).all():
        kept = {key: value for key, value in data.items() if key not in ("login", "name")}
        work.update(events, events.c.id == event_id, data=kept)


def identities_of(work: Work, person_id: int) -> list[dict[str, Any]]:
    """Who the person is at the organisation's identity provider."""
    found = work.select(identities).where(identities.c.person_id == person_id)
    return [dict(row) for row in work.connection.execute(found).mappings()]


def forget_identities(work: Work, person_id: int) -> None:
    """The provider's subject no longer leads to the person."""
    work.delete(identities, identities.c.person_id == person_id)


def erasing(connection: sa.Connection) -> list[tuple[int, int, dict[str, Any]]]:
    """People whose erasure waits for records to come of age: organisation, id, what is left."""
    waiting = sa.select(people.c.organisation_id, people.c.id, people.c.preferences).where(
        people.c.disabled_at.is_not(None), people.c.preferences.is_not(None)
    )
    rows = connection.execute(waiting).all()
    return [(int(o), int(i), p["erasing"]) for o, i, p in rows if "erasing" in p]
