"""Queries for the broker users of devices."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

import sqlalchemy as sa

from service.store.paging import Page, PageRequest, fetch_page
from service.store.tables import device_credentials, places
from service.store.work import Work, as_record


@dataclass(frozen=True, slots=True)
class Credential:
    """A device's broker user without its password; device ``+`` stands for every device of the place."""

    id: int
    device: str
    place: str
    username: str
    issued_at: datetime
    issued_by: str
    revoked_at: datetime | None
    revoked_by: str | None


@dataclass(frozen=True, slots=True)
class Grant:
    """What the broker must know of a user."""

    organisation_id: int
    username: str
    password_hash: str
    place: str
    device: str


_JOINED = device_credentials.join(places, places.c.id == device_credentials.c.place_id)
_PLACE = places.c.name.label("place")


def _named(work: Work) -> sa.Select[Any]:
    return work.select(device_credentials, *device_credentials.c, _PLACE).select_from(_JOINED)


def by_id(work: Work, credential_id: int) -> Credential | None:
    """The credential of that id."""
    return work.one(_named(work).where(device_credentials.c.id == credential_id), Credential)


def page(work: Work, request: PageRequest, *, device: str | None) -> Page[Credential]:
    """Credentials, newest first, of one device on request."""
    statement = _named(work)
    if device is not None:
        statement = statement.where(device_credentials.c.device == device)
    key = device_credentials.c.id
    return fetch_page(work, statement, key, Credential, request, newest_first=True)


def insert(work: Work, **values: Any) -> int:
    """A new credential; answers its id."""
    return work.insert(device_credentials, **values)


def revoke(work: Work, credential_id: int, *, at: datetime, by: str) -> bool:
    """Make it useless; false when there is no such valid credential."""
    valid = (device_credentials.c.id == credential_id, device_credentials.c.revoked_at.is_(None))
    return work.update(device_credentials, *valid, revoked_at=at, revoked_by=by) == 1


def granted(connection: sa.Connection) -> list[Grant]:
    """Every valid user of every organisation, as the broker needs them."""
    of = device_credentials.c
    columns = (of.organisation_id, of.username, of.password_hash, of.device)
    statement = (
        sa.select(*columns, _PLACE)
        .select_from(_JOINED)
        .where(device_credentials.c.revoked_at.is_(None))
        .order_by(device_credentials.c.id)
    )
    return [as_record(row, Grant) for row in connection.execute(statement).mappings()]
