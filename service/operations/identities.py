"""Use cases for signing in with an organisation's own identity provider."""

from collections.abc import Mapping
from typing import Any
from urllib.parse import urlsplit

from service.operations import bootstrap
from service.operations.people import ROLES
from service.operations.support.context import Actor, Services, tell
from service.operations.support.errors import FieldError, Invalid, NotAllowed, NotFound
from service.operations.support.events import IDENTITY_CHANGED, PERSON_CHANGED
from service.outbound import openid
from service.outbound.openid import Provider, ProviderFailed, Started
from service.store import identities, people
from service.store.identities import StoredProvider
from service.store.people import Person
from service.store.work import Work

NOT_KNOWN = "Your organisation's sign-in worked, but you have no account here. Ask a supervisor for one."
LOOPBACK = ("127.0.0.1", "::1", "localhost")


def set_provider(
    services: Services, actor: Actor, *, issuer: str, client_id: str, secret: str, newcomer_role: str | None
) -> None:
    """
    Let an organisation's people sign in with its provider; the operator's command line alone asks for this.

    Raises
    ------
    Invalid
        When the issuer is not ``https`` (or on this machine), or the role is unknown or more than technician.
    """
    parts = urlsplit(issuer)
    if parts.scheme != "https" and not (parts.scheme == "http" and parts.hostname in LOOPBACK):
        raise Invalid(FieldError("issuer", issuer, "an https URL"))
    if newcomer_role not in (None, *ROLES[:1]):
        raise Invalid(FieldError("newcomer_role", newcomer_role, f"{ROLES[0]} or none"))
    at = services.now()
    with services.database.writing(actor.organisation_id) as work:
        sealed = services.post.seal.close(secret)
        identities.set_provider(
            work, at=at, issuer=issuer, client_id=client_id, sealed=sealed, newcomer_role=newcomer_role
        )
        tell(work, actor, at, IDENTITY_CHANGED, "identity-provider", {"change": "set", "issuer": issuer})


def remove_provider(services: Services, actor: Actor) -> None:
    """Let people sign in by password alone again."""
    at = services.now()
    with services.database.writing(actor.organisation_id) as work:
        if not identities.remove_provider(work):
            raise NotFound("identity provider of organisation", actor.organisation_id)
        tell(work, actor, at, IDENTITY_CHANGED, "identity-provider", {"change": "removed"})


def offered(services: Services) -> str | None:
    """The organisation to offer on the sign-in page: the only one with a provider; of several none is named."""
    with services.database.engine.connect() as connection:
        names = identities.organisations_with_provider(connection)
    return names[0] if len(names) == 1 else None


def begin(services: Services, organisation: str, redirect_uri: str) -> Started:
    """Begin a sign-in with the provider of an organisation; ``ProviderFailed`` when it does not answer."""
    return openid.start(
        _provider(services, _stored(services, organisation)), redirect_uri, services.new_secret
    )


def complete(
    services: Services, organisation: str, redirect_uri: str, started: Started, answer_url: str
) -> Person:
    """
    The person who came back from the provider.

    Raises
    ------
    ProviderFailed
        When the provider's answer does not hold.
    NotAllowed
        When the person has no account here and newcomers get none, or was disabled.
    """
    stored = _stored(services, organisation)
    now_s = services.now().timestamp()
    claims = openid.finish(_provider(services, stored), redirect_uri, started, answer_url, now_s)
    at = services.now()
    with services.database.writing(stored.organisation_id) as work:
        person_id = identities.person_of(work, stored.issuer, claims["sub"])
        if person_id is None:
            person_id = _newly_met(services, work, stored, claims)
        person = people.by_id(work, person_id)
        if person is None or person.disabled_at is not None:
            raise NotAllowed(NOT_KNOWN)
        people.change(work, person.id, last_seen_at=at)
    return person


def _newly_met(services: Services, work: Work, stored: StoredProvider, claims: Mapping[str, Any]) -> int:
    """Link to the account whose login is the verified address, or make one where newcomers get one."""
    at = services.now()
    email = claims.get("email") if claims.get("email_verified") is True else None
    known = people.by_login(work.connection, email) if isinstance(email, str) else None
    actor = Actor(stored.organisation_id, "system:identity-provider", "supervisor")
    if known is not None and known.organisation_id == stored.organisation_id:
        person_id = known.id
    elif known is None and stored.newcomer_role and isinstance(email, str) and 3 <= len(email) <= 80:
        name = str(claims.get("name") or email)[:120]
        role = stored.newcomer_role
        person_id = people.insert(work, at=at, login=email, name=name, role=role, password_hash=None)
        told = {"change": "created", "login": email, "role": role}
        tell(work, actor, at, PERSON_CHANGED, f"people/{person_id}", told)
    else:
        raise NotAllowed(NOT_KNOWN)
    identities.link(work, person_id=person_id, issuer=stored.issuer, subject=claims["sub"], at=at)
    tell(
        work,
        actor,
        at,
        IDENTITY_CHANGED,
        f"people/{person_id}",
        {"change": "linked", "issuer": stored.issuer},
    )
    return person_id


def _stored(services: Services, organisation: str) -> StoredProvider:
    with services.database.engine.connect() as connection:
        stored = identities.provider_of(connection, organisation)
    if stored is None:
        raise NotFound("sign-in with the organisation", organisation)
    return stored


def _provider(services: Services, stored: StoredProvider) -> Provider:
    secret = services.post.seal.open(stored.sealed_client_secret)
    return Provider(stored.issuer, stored.client_id, secret)


def organisation_actor(services: Services, organisation: str) -> Actor:
    """How the command line acts for an organisation."""
    found = bootstrap.organisation_id(services, organisation)
    if found is None:
        raise NotFound("organisation", organisation)
    return bootstrap.system_actor(found)


__all__ = [
    "ProviderFailed",
    "begin",
    "complete",
    "offered",
    "organisation_actor",
    "remove_provider",
    "set_provider",
]
