"""Use cases for a person's own data: handed out on request, erased on request as far as the law lets it be."""

from dataclasses import asdict, dataclass
from datetime import timedelta
from typing import Any

from service.operations.support.context import Actor, Services, tell
from service.operations.support.errors import NotFound
from service.operations.support.events import PERSON_CHANGED
from service.store import people, personal_data
from service.store.people import Person
from service.store.work import Work

RECORDS_KEPT = timedelta(days=3 * 366)
"""Records of recovery and disposal keep the technician's name for three years (40 CFR 82.156 and 82.166, from
memory; local law may ask for longer)."""


@dataclass(frozen=True, slots=True)
class Erased:
    """What an erasure did and what it had to leave."""

    pseudonym: str
    places: int
    records_left: int


def export(services: Services, actor: Actor, login: str) -> dict[str, Any]:
    """Everything that names a person, without the password's hash."""
    with services.database.reading(actor.organisation_id) as work:
        person = _by_login(work, login)
        own = {name: value for name, value in asdict(person).items() if name != "password_hash"}
        return {
            "person": own,
            "identities": personal_data.identities_of(work, person.id),
            "acted": personal_data.acted(work, f"person:{login}"),
            "records": personal_data.records_of(work, person.name),
        }


def erase(services: Services, actor: Actor, login: str) -> Erased:
    """
    End a person's account and put a pseudonym wherever the name stands.

    What was done stays done, by somebody: records and the log keep their meaning. A technician's name stays in
    records that are younger than ``RECORDS_KEPT``; the daily maintenance takes it out when they come of age.
    """
    at = services.now()
    with services.database.writing(actor.organisation_id) as work:
        person = _by_login(work, login)
        pseudonym = f"erased-{person.id}"
        places = personal_data.rename_actor(work, f"person:{login}", f"person:{pseudonym}")
        before = at - RECORDS_KEPT
        places += personal_data.unname_records(work, person.name, person.certification_number, before)
        left = sum(len(rows) for rows in personal_data.records_of(work, person.name).values())
        personal_data.strip_person_events(work, person.id)
        personal_data.forget_identities(work, person.id)
        waiting = {"name": person.name, "certification_number": person.certification_number}
        people.change(
            work,
            person.id,
            login=pseudonym,
            name=pseudonym,
            password_hash=None,
            certification_number=None,
            session_epoch=person.session_epoch + 1,
            preferences={"erasing": waiting} if left else None,
            disabled_at=at,
        )
        tell(work, actor, at, PERSON_CHANGED, f"people/{person.id}", {"change": "erased"})
    return Erased(pseudonym, places, left)


def finish_erasures(services: Services) -> int:
    """Take names out of records that have come of age since; answers of how many."""
    removed = 0
    before = services.now() - RECORDS_KEPT
    with services.database.engine.connect() as connection:
        waiting = personal_data.erasing(connection)
    for organisation_id, person_id, named in waiting:
        with services.database.writing(organisation_id) as work:
            name, number = named["name"], named["certification_number"]
            removed += personal_data.unname_records(work, name, number, before)
            if not any(personal_data.records_of(work, name).values()):
                people.change(work, person_id, preferences=None)
    return removed


def _by_login(work: Work, login: str) -> Person:
    person = people.by_login(work.connection, login)
    if person is None or person.organisation_id != work.organisation_id:
        raise NotFound("person", login)
    return person
