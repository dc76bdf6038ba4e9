"""Bearer tokens: made once, kept as a digest, checked on every call."""

import hashlib
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime, timedelta

from service.operations.support.context import SCOPES, Actor, Services, tell
from service.operations.support.errors import FieldError, Invalid, NotFound
from service.operations.support.events import TOKEN_CHANGED
from service.store import tokens
from service.store.database import UNAVAILABLE
from service.store.tokens import Token

PREFIX = "hm_"
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
    place: str | None = None,
    device: str | None = None,
) -> NewToken:
    """
    A new token of the actor's organisation; ``place`` and ``device`` bind one of the scope ``gateway`` to them.

    Raises
    ------
    Invalid
        When the scope is unknown, or another one than ``gateway`` is bound to a place or device.
    """
    if scope not in SCOPES:
        raise Invalid(FieldError("scope", scope, f"one of {', '.join(SCOPES)}"))
    if scope != "gateway" and (place or device):
        raise Invalid(FieldError("scope", scope, "gateway, for a token of one place or device"))
    if device and not place:
        raise Invalid(FieldError("place", None, "the place of the device"))
    at = services.now()
    secret = PREFIX + services.new_secret()
    with services.database.writing(actor.organisation_id) as work:
        token = tokens.insert(
            work,
            name=name,
            scope=scope,
            digest=digest_of(secret),
            at=at,
            expires_at=expires_at,
            place=place,
            device=device,
        )
        tell(
            work,
            actor,
            at,
            TOKEN_CHANGED,
            f"tokens/{token.id}",
            {"change": "created", "name": name, "scope": scope},
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
    return Actor(
        token.organisation_id, f"token:{token.name}", token.scope, place=token.place, device=token.device
    )
