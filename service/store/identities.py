"""Queries for identity providers and for who is who there."""

from dataclasses import dataclass
from datetime import datetime

import sqlalchemy as sa

from service.store.tables import identities, identity_providers, organisations
from service.store.work import Work, as_record


@dataclass(frozen=True, slots=True)
class StoredProvider:
    """An organisation's provider; its secret is sealed."""

    id: int
    organisation_id: int
    issuer: str
    client_id: str
    sealed_client_secret: str
    newcomer_role: str | None


def provider_of(connection: sa.Connection, organisation: str) -> StoredProvider | None:
    """The provider of the organisation of that name; asked before anybody is signed in."""
    joined = identity_providers.join(
        organisations, organisations.c.id == identity_providers.c.organisation_id
    )
    statement = sa.select(identity_providers).select_from(joined).where(organisations.c.name == organisation)
    row = connection.execute(statement).mappings().one_or_none()
    return None if row is None else as_record(row, StoredProvider)


def organisations_with_provider(connection: sa.Connection) -> list[str]:
    """Names of the organisations whose people may sign in with a provider."""
    joined = identity_providers.join(
        organisations, organisations.c.id == identity_providers.c.organisation_id
    )
    return [
        str(name)
        for name in connection.execute(sa.select(organisations.c.name).select_from(joined)).scalars()
    ]


def set_provider(
    work: Work, *, at: datetime, issuer: str, client_id: str, sealed: str, newcomer_role: str | None
) -> None:
    """The organisation's provider from now on."""
    work.delete(identity_providers)
    work.insert(
        identity_providers,
        issuer=issuer,
        client_id=client_id,
        sealed_client_secret=sealed,
        newcomer_role=newcomer_role,
        created_at=at,
    )


def remove_provider(work: Work) -> bool:
    """Sign in by password alone again; false when there was no provider."""
    return work.delete(identity_providers) == 1


def person_of(work: Work, issuer: str, subject: str) -> int | None:
    """The person that a subject at a provider stands for."""
    same = (identities.c.issuer == issuer, identities.c.subject == subject)
    found = work.connection.execute(work.select(identities, identities.c.person_id).where(*same))
    person: int | None = found.scalar_one_or_none()
    return person


def link(work: Work, *, person_id: int, issuer: str, subject: str, at: datetime) -> None:
    """A subject at a provider stands for a person from now on."""
    work.insert(identities, person_id=person_id, issuer=issuer, subject=subject, linked_at=at)
