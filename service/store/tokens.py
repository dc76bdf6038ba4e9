"""Queries for bearer tokens; looking one up by digest is the one read that no organisation scopes."""

from dataclasses import dataclass
from datetime import datetime

import sqlalchemy as sa

from service.store.tables import tokens
from service.store.work import Work, as_record


@dataclass(frozen=True, slots=True)
class Token:
    """A token without its secret."""

    id: int
    organisation_id: int
    name: str
    scope: str
    created_at: datetime
    expires_at: datetime | None
    revoked_at: datetime | None
    last_used_at: datetime | None
    places: list[str] | None = None
    """Names of the places that it is bound to; None: not bound."""

    def valid(self, at: datetime) -> bool:
        """Neither revoked nor expired."""
        return self.revoked_at is None and (self.expires_at is None or at < self.expires_at)


def by_digest(connection: sa.Connection, digest: str) -> Token | None:
    """The token whose secret has this digest, of whichever organisation."""
    row = connection.execute(sa.select(tokens).where(tokens.c.digest == digest)).mappings().one_or_none()
    return None if row is None else as_record(row, Token)


def touch(connection: sa.Connection, token_id: int, at: datetime) -> None:
    """Note that a token was used."""
    connection.execute(sa.update(tokens).where(tokens.c.id == token_id).values(last_used_at=at))


def listed(work: Work) -> list[Token]:
    """Every token of the organisation, oldest first."""
    return work.all(work.select(tokens).order_by(tokens.c.id), Token)


def insert(
    work: Work,
    *,
    name: str,
    scope: str,
    digest: str,
    at: datetime,
    expires_at: datetime | None,
    places: list[str] | None = None,
) -> Token:
    """A new token, by its digest."""
    token_id = work.insert(
        tokens,
        name=name,
        scope=scope,
        digest=digest,
        created_at=at,
        expires_at=expires_at,
        places=places,
    )
    return Token(token_id, work.organisation_id, name, scope, at, expires_at, None, None, places)


def revoke(work: Work, token_id: int, at: datetime) -> bool:
    """Make a token useless from now on; false when there is no such living token."""
    return work.update(tokens, tokens.c.id == token_id, tokens.c.revoked_at.is_(None), revoked_at=at) == 1
