"""People who sign in at the board: passwords, sessions, one answer for every kind of failure."""

from dataclasses import dataclass
from datetime import timedelta

from service.codes import Scope
from service.operations.support import passwords
from service.operations.support.context import Actor, Services, tell
from service.operations.support.errors import Conflict, FieldError, Invalid, NotFound, Reason
from service.operations.support.events import PERSON_CHANGED
from service.operations.tokens import digest_of
from service.store import people, sessions
from service.store.people import Person

ROLES: tuple[str, ...] = (Scope.TECHNICIAN, Scope.SUPERVISOR, Scope.ADMINISTRATOR)
SHORTEST_PASSWORD = 10
LONGEST_SESSION = timedelta(days=30)
"""A board on a wall stays signed in for a month; a browser forgets its session when it is closed."""


@dataclass(frozen=True, slots=True)
class NewPerson:
    """Somebody to be let in."""

    login: str
    name: str
    role: str
    password: str
    certification_number: str | None = None
    certification_type: str | None = None
    certification_organisation: str | None = None


def create(services: Services, actor: Actor, new: NewPerson) -> Person:
    """
    Let somebody in.

    Raises
    ------
    Invalid
        When the role is unknown or the password too short.
    Conflict
        When the login is taken.
    """
    if new.role not in ROLES:
        raise Invalid(FieldError("role", new.role, f"one of {', '.join(ROLES)}"))
    _long_enough(new.password)
    at = services.now()
    hashed = passwords.hashed(new.password)
    with services.database.writing(actor.organisation_id) as work:
        if people.by_login(work.connection, new.login) is not None:
            raise Conflict([Reason("login-taken", f"The login {new.login} is taken.")])
        person_id = people.insert(
            work,
            at=at,
            login=new.login,
            name=new.name,
            role=new.role,
            password_hash=hashed,
            certification_number=new.certification_number,
            certification_type=new.certification_type,
            certification_organisation=new.certification_organisation,
        )
        told = {"change": "created", "login": new.login, "role": new.role}
        tell(work, actor, at, PERSON_CHANGED, f"people/{person_id}", told)
        person = people.by_id(work, person_id)
    assert person is not None  # noqa: S101
    return person


def sign_in(services: Services, login: str, password: str, *, first_try: bool = True) -> Person | None:
    """
    The person of this login and password; none for every kind of failure.

    Parameters
    ----------
    services, login, password
        What may be used, and what was typed.
    first_try
        Whether the caller has not failed lately.

    Raises
    ------
    Unavailable
        When too many sign in at once.
    """
    with services.database.engine.connect() as connection:
        person = people.by_login(connection, login)
    kept = person.password_hash if person and person.password_hash else passwords.nobody()
    if not passwords.fits(password, kept, first_try=first_try):
        return None
    if person is None or person.password_hash is None or person.disabled_at is not None:
        return None
    at = services.now()
    fresh = {"password_hash": passwords.hashed(password)} if passwords.is_dated(kept) else {}
    with services.database.writing(person.organisation_id) as work:
        people.change(work, person.id, last_seen_at=at, **fresh)
    return person


def begin_session(services: Services, person: Person) -> str:
    """A new session of a person who has signed in; answers the secret that the browser keeps."""
    secret = services.new_secret()
    with services.database.writing(person.organisation_id) as work:
        sessions.begin(work, person, digest_of(secret), services.now())
    return secret


def signed_in(services: Services, secret: str) -> Person | None:
    """The person of a session; none once it has ended, or the person was disabled or given a new password."""
    with services.database.engine.connect() as connection:
        return sessions.person_of(connection, digest_of(secret), services.now() - LONGEST_SESSION)


def end_session(services: Services, secret: str) -> None:
    """Sign out: whoever has a copy of the cookie is out too."""
    with services.database.unowned() as connection:
        sessions.end(connection, digest_of(secret), services.now())


def actor_of(person: Person) -> Actor:
    """How a signed-in person acts."""
    return Actor(person.organisation_id, f"person:{person.login}", person.role, person.id)


def listed(services: Services, actor: Actor) -> list[Person]:
    """Everybody of the organisation."""
    with services.database.reading(actor.organisation_id) as work:
        return people.listed(work)


def set_password(services: Services, actor: Actor, person_id: int, password: str) -> None:
    """A new password; every session of the person ends."""
    _long_enough(password)
    at = services.now()
    hashed = passwords.hashed(password)
    with services.database.writing(actor.organisation_id) as work:
        person = people.by_id(work, person_id)
        if person is None:
            raise NotFound("person", person_id)
        people.change(work, person_id, password_hash=hashed, session_epoch=person.session_epoch + 1)
        tell(work, actor, at, PERSON_CHANGED, f"people/{person_id}", {"change": "password"})


def disable(services: Services, actor: Actor, person_id: int) -> None:
    """Let somebody in no longer; every session of theirs ends.

    Raises
    ------
    Conflict
        When it is oneself, so that the last administrator cannot lock everybody out.
    """
    if person_id == actor.person_id:
        raise Conflict([Reason("oneself", "Nobody shuts themselves out; another administrator does that.")])
    at = services.now()
    with services.database.writing(actor.organisation_id) as work:
        if people.by_id(work, person_id) is None:
            raise NotFound("person", person_id)
        people.change(work, person_id, disabled_at=at)
        tell(work, actor, at, PERSON_CHANGED, f"people/{person_id}", {"change": "disabled"})


def set_preferences(services: Services, actor: Actor, person_id: int, **preferences: str | None) -> None:
    """Units, theme and the like of one person."""
    with services.database.writing(actor.organisation_id) as work:
        person = people.by_id(work, person_id)
        if person is None:
            raise NotFound("person", person_id)
        people.change(work, person_id, preferences={**(person.preferences or {}), **preferences})


def _long_enough(password: str) -> None:
    if len(password) < SHORTEST_PASSWORD:
        raise Invalid(FieldError("password", "…", f"at least {SHORTEST_PASSWORD} characters"))
