"""Bearer tokens: made once, kept as a digest, checked on every call."""

import hashlib
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime, timedelta

from service.operations import places as known_places
from service.operations.support.context import SCOPES, Actor, Services, tell
from service.operations.support.errors import FieldError, Invalid, NotFound
from service.operations.support.events import TOKEN_CHANGED
from service.store import tokens
from service.store.database import UNAVAILABLE
from service.store.tokens import Token

PREFIX = "hm_"
UNBOUND = ("worker", "administrator")
"""Scopes of what belongs to no place: the broker's whole traffic, people and tokens."""
TOUCH_EVERY = timedelta(minutes=1)


@dataclass(frozen=True, slots=True)
class NewToken:
    """A token with its secret, which is told this once."""

    token: Token
    secret: str


def digest_of(secret: str) -> str:
    """What is kept of a secret; its 256 random bits need no slow hash."""
    return hashlib.sha256(secret.encode()).hexdigest()


def create(
    services: Services,
    actor: Actor,
    *,
    name: str,
    scope: str,
    expires_at: datetime | None = None,
    places: Sequence[str] | None = None,
) -> NewToken:
    """
    A new token of the actor's organisation.

    Parameters
    ----------
    services, actor
        What may be used, and who asks.
    name, scope
        What it is called, and one of ``SCOPES``.
    expires_at
        From when on it is useless; None: never by itself.
    places
        Names of the places that it is bound to; None: not bound.

    Raises
    ------
    Invalid
        When the scope is unknown, or cannot be bound to places.
    NotFound
        When there is no such place.
    """
    if scope not in SCOPES:
        raise Invalid(FieldError("scope", scope, f"one of {', '.join(SCOPES)}"))
    if places is not None and (scope in UNBOUND or not places):
        raise Invalid(FieldError("places", list(places), _may_be_bound(scope)))
    bound = None if places is None else sorted(set(places))
    at = services.now()
    secret = PREFIX + services.new_secret()
    with services.database.writing(actor.organisation_id) as work:
        for place in bound or ():
            known_places.named(work, place)
        token = tokens.insert(
            work,
            name=name,
            scope=scope,
            digest=digest_of(secret),
            at=at,
            expires_at=expires_at,
            places=bound,
        )
        tell(
            work,
            actor,
            at,
            TOKEN_CHANGED,
            f"tokens/{token.id}",
            {"change": "created", "name": name, "scope": scope, "places": bound},
        )
        return NewToken(token, secret)


def listed(services: Services, actor: Actor) -> list[Token]:
    """Every token of the organisation, without secrets."""
    with services.database.reading(actor.organisation_id) as work:
        return tokens.listed(work)


def revoke(services: Services, actor: Actor, token_id: int) -> None:
    """Make a token useless at once."""
    at = services.now()
    with services.database.writing(actor.organisation_id) as work:
        if not tokens.revoke(work, token_id, at):
            raise NotFound("living token", token_id)
        tell(work, actor, at, TOKEN_CHANGED, f"tokens/{token_id}", {"change": "revoked"})


def actor_of(services: Services, secret: str) -> Actor | None:
    """Who carries this secret; none when it is unknown, revoked or expired."""
    at = services.now()
    database = services.database
    with database.engine.connect() as connection:
        token = tokens.by_digest(connection, digest_of(secret))
    if token is None or not token.valid(at):
        return None
    if token.last_used_at is None or at - token.last_used_at > TOUCH_EVERY:
        # What can be read is read while nothing can be written.
        with suppress(*UNAVAILABLE), database.unowned() as connection:
            tokens.touch(connection, token.id, at)
    places = None if token.places is None else frozenset(token.places)
    return Actor(token.organisation_id, f"token:{token.name}", token.scope, places=places)


def _may_be_bound(scope: str) -> str:
    return f"none with the scope {scope}" if scope in UNBOUND else "at least one place"
