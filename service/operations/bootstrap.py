"""The first organisation, its place, its administrator and its tokens."""

from dataclasses import dataclass
from functools import partial

from service.operations import device_credentials, people, places, tokens
from service.operations.people import NewPerson
from service.operations.support import calendar
from service.operations.support.context import Actor, Services
from service.store import organisations

FIRST_SCOPES = ("technician", "supervisor", "reader", "worker")


@dataclass(frozen=True, slots=True)
class FirstRun:
    """Secrets that are told once."""

    login: str
    password: str
    tokens: dict[str, str]
    gateway: str
    gateway_password: str


def system_actor(organisation_id: int) -> Actor:
    """How the command line acts."""
    return Actor(organisation_id, "system:command-line", "administrator")


def create_organisation(services: Services, name: str) -> int | None:
    """A new organisation's id; none when the name is taken."""
    with services.database.unowned() as connection:
        if organisations.by_name(connection, name) is not None:
            return None
        return organisations.insert(connection, name=name, at=services.now())


def organisation_id(services: Services, name: str) -> int | None:
    """The id of the organisation of that name."""
    with services.database.engine.connect() as connection:
        found = organisations.by_name(connection, name)
    return None if found is None else found.id


def set_up(
    services: Services,
    name: str,
    login: str,
    place: str,
    *,
    elevation_m: float | None = None,
    time_zone: str = "UTC",
) -> FirstRun | None:
    """
    Make an organisation that somebody can begin to work in, whole or not at all.

    Parameters
    ----------
    services
        What may be used.
    name
        Of the organisation.
    login
        Of its administrator, who gets a random password.
    place
        Its first place, whose gateway gets a user at the broker.
    elevation_m
        Of that place [m].
    time_zone
        IANA name of the time zone by which the organisation counts its days.

    Returns
    -------
    FirstRun or None
        None when there is such an organisation already; nothing is changed then.

    Raises
    ------
    Invalid
        When there is no such time zone.
    """
    zone = calendar.known_zone(time_zone)
    if organisation_id(services, name) is not None:
        return None
    password = services.new_secret()[:16]
    founded = partial(organisations.insert, name=name, at=services.now(), time_zone=zone)
    with services.database.founding(founded) as work:
        actor = system_actor(work.organisation_id)
        places.create(services, actor, name=place, kind="shop", elevation_m=elevation_m)
        people.create(services, actor, NewPerson(login, "Administrator", "administrator", password))
        secrets = {
            scope: tokens.create(services, actor, name=scope, scope=scope).secret for scope in FIRST_SCOPES
        }
        gateway = device_credentials.issue(services, actor, device=None, place=place)
    return FirstRun(login, password, secrets, gateway.credential.username, gateway.password)
