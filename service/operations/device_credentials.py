"""Use cases for the broker users of devices: issued once, revoked at once, written out for the broker."""

import secrets
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace

from service.operations import places
from service.operations.support.context import Actor, Services, tell
from service.operations.support.errors import FieldError, Invalid, NotFound
from service.operations.support.events import CREDENTIAL_CHANGED
from service.outbound.broker_access import (
    ANY_DEVICE,
    SALT_BYTES,
    BrokerUser,
    UnusableName,
    device_on,
    device_user,
    hash_password,
    verifies,
    worker_on,
    worker_user,
)
from service.store import credentials, mappings
from service.store.credentials import Credential
from service.store.paging import Page, PageRequest


@dataclass(frozen=True, slots=True)
class WithPassword:
    """A credential with its password, told this once."""

    credential: Credential
    password: str


def issue(services: Services, actor: Actor, *, device: str | None, place: str) -> WithPassword:
    """
    Give a device, or with none the gateway of a place, its own user at the broker.

    Parameters
    ----------
    services, actor
        What may be used, and who asks.
    device
        Its name as in the topic; it may publish its own readings alone. None: a gateway, which publishes for
        every device of its place.
    place
        Where it publishes.

    Returns
    -------
    WithPassword
        The only time that the password is told.

    Raises
    ------
    NotFound
        When the place is unknown.
    Invalid
        When a name cannot be a topic level.
    """
    at = services.now()
    password = services.new_secret()
    hashed = hash_password(password, secrets.token_bytes(SALT_BYTES))
    username = f"{'gateway' if device is None else 'device'}-{secrets.token_hex(8)}"
    with services.database.writing(actor.organisation_id) as work:
        where = places.named(work, place)
        try:
            device_user("root", place, device or ANY_DEVICE, username, hashed)
        except UnusableName as error:
            raise Invalid(FieldError("device", device, f"one topic level: {error}")) from None
        if device == ANY_DEVICE:
            raise Invalid(FieldError("device", device, "a device's name"))
        credential_id = credentials.insert(
            work,
            device=device or ANY_DEVICE,
            place_id=where.id,
            username=username,
            password_hash=hashed,
            issued_at=at,
            issued_by=actor.name,
        )
        told = {"change": "issued", "device": device, "place": place, "username": username}
        tell(work, actor, at, CREDENTIAL_CHANGED, f"device-credentials/{credential_id}", told)
        credential = credentials.by_id(work, credential_id)
    assert credential is not None  # noqa: S101
    return WithPassword(credential, password)


def listed(services: Services, actor: Actor, request: PageRequest, *, device: str | None) -> Page[Credential]:
    """Credentials, valid and revoked, newest first."""
    with services.database.reading(actor.organisation_id) as work:
        return credentials.page(work, request, device=device)


def revoke(services: Services, actor: Actor, credential_id: int) -> None:
    """Put a device out at the broker's next reading of its files, which a change brings about."""
    at = services.now()
    with services.database.writing(actor.organisation_id) as work:
        credential = credentials.by_id(work, credential_id)
        if credential is None or not credentials.revoke(work, credential_id, at=at, by=actor.name):
            raise NotFound("valid credential", credential_id)
        told = {"change": "revoked", "device": credential.device, "username": credential.username}
        tell(work, actor, at, CREDENTIAL_CHANGED, f"device-credentials/{credential_id}", told)


@dataclass(frozen=True, slots=True)
class SiteUser:
    """A broker user of the installation itself, whose password the operator keeps; `rights` as `worker_user`."""

    username: str
    password: str
    rights: Callable[[str, str, str], BrokerUser]


def broker_users(
    services: Services, root: str, site: Iterable[SiteUser], known: Mapping[str, str]
) -> list[BrokerUser]:
    """
    Everybody who may connect: the installation's own users, and every device with a valid credential.

    Parameters
    ----------
    services
        What may be used.
    root
        First level of every topic.
    site
        The installation's own.
    known
        Hashes of the present file by user: one that still fits is kept, so that the file changes only with its users.
    """
    with services.database.engine.connect() as connection:
        grants = credentials.granted(connection)
        topics = {
            owner: [topic for topic in found if topic.partition("/")[0] != root]
            for owner, found in mappings.topics(connection).items()
        }
    heard = worker_on(topic for found in topics.values() for topic in found)
    own = [
        replace(
            user.rights(root, user.username, _hash_of(user, known.get(user.username))),
            foreign=heard if user.rights is worker_user else (),
        )
        for user in site
    ]
    devices = [
        replace(
            device_user(root, g.place, g.device, g.username, g.password_hash),
            foreign=device_on(topics.get(g.organisation_id, ()), g.place, g.device),
        )
        for g in grants
    ]
    return [*own, *devices]


def _hash_of(user: SiteUser, known: str | None) -> str:
    if known is not None and verifies(user.password, known):
        return known
    return hash_password(user.password, secrets.token_bytes(SALT_BYTES))
