"""A person's data is handed out whole, and erased as far as the law lets it be."""

import json
from datetime import timedelta

import pytest
import sqlalchemy as sa

from service.operations import audit, cylinders, people, personal_data, retention
from service.operations.audit import Filter
from service.operations.people import NewPerson
from service.operations.support.context import Actor, Services
from service.operations.support.errors import NotFound
from service.operations.support.lookup import by_serial
from service.store import tables
from service.store.paging import PageRequest
from tests.support.clock import Clock

LOGIN, NAME, NUMBER = "rosa.example", "Rosa Muster", "CERT-12345"


@pytest.fixture
def person(any_services: Services, any_actor: Actor) -> Actor:
    new = NewPerson(LOGIN, NAME, "technician", "a long password", NUMBER)
    return people.actor_of(people.create(any_services, any_actor, new))


def recorded(services: Services, person: Actor, serial: str) -> None:
    """A cylinder and a transfer out of a record with the technician's name."""
    cylinders.register(services, person, serial, {"place": "shop"})
    with services.database.writing(person.organisation_id) as work:
        cylinder = by_serial(work, serial)
        at = services.now()
        work.insert(
            tables.transfers,
            cylinder_id=cylinder.id,
            direction="in",
            designation="R-22",
            shares={"R-22": 1.0},
            mass_kg=2.0,
            phase="vapour",
            epoch=1,
            occurred_at=at,
            recorded_at=at,
            recorded_by=person.name,
            technician=NAME,
            certification_number=NUMBER,
        )


def everything(services: Services) -> str:
    with services.database.engine.connect() as connection:
        rows = [
            [str(value) for value in row]
            for table in tables.metadata.sorted_tables
            for row in connection.execute(sa.select(table))
        ]
    return json.dumps(rows)


def test_the_export_has_all_that_names_the_person_and_no_hash(
    any_services: Services, any_actor: Actor, person: Actor
) -> None:
    recorded(any_services, person, "HM-1")
    export = personal_data.export(any_services, any_actor, LOGIN)
    assert export["person"]["certification_number"] == NUMBER
    assert "password_hash" not in export["person"]
    assert [row["mass_kg"] for row in export["records"]["transfers"]] == [2.0]
    assert {"events", "transfers"} <= export["acted"].keys()


def test_erased_the_name_stands_in_young_records_alone(
    any_services: Services, any_actor: Actor, person: Actor, clock: Clock
) -> None:
    recorded(any_services, person, "HM-1")
    erased = personal_data.erase(any_services, any_actor, LOGIN)
    assert erased.records_left == 1
    left = everything(any_services)
    assert LOGIN not in left
    assert people.sign_in(any_services, LOGIN, "a long password") is None
    with any_services.database.engine.connect() as connection:
        transfer = connection.execute(sa.select(tables.transfers)).mappings().one()
    assert (transfer["technician"], transfer["certification_number"]) == (NAME, NUMBER)
    assert transfer["recorded_by"] == f"person:{erased.pseudonym}"
    clock.forward(days=3 * 366 + 1)
    retention.maintain(any_services)
    left = everything(any_services)
    assert NAME not in left
    assert NUMBER not in left
    with any_services.database.engine.connect() as connection:
        assert connection.execute(sa.select(tables.transfers.c.mass_kg)).scalar_one() == 2.0


def test_the_name_leaves_old_works_on_appliances(
    any_services: Services, any_actor: Actor, person: Actor, clock: Clock
) -> None:
    with any_services.database.writing(person.organisation_id) as work:
        at = any_services.now()
        appliance = work.insert(
            tables.appliances, location="Store 12", name="Rack A", designation="R-404A", full_charge_kg=45.0,
            kind="commercial-refrigeration", leak_method="annualized", created_at=at,
        )  # fmt: skip
        work.insert(
            tables.appliance_works, appliance_id=appliance, kind="repair", technician=NAME,
            occurred_at=at, recorded_at=at, recorded_by=person.name,
        )  # fmt: skip
    export = personal_data.export(any_services, any_actor, LOGIN)
    assert [row["kind"] for row in export["records"]["appliance_works"]] == ["repair"]
    assert personal_data.erase(any_services, any_actor, LOGIN).records_left == 1
    clock.forward(days=3 * 366 + 1)
    retention.maintain(any_services)
    assert NAME not in everything(any_services)


def test_old_records_lose_the_name_at_once_and_the_log_still_tells_what_was_done(
    any_services: Services, any_actor: Actor, person: Actor, clock: Clock
) -> None:
    recorded(any_services, person, "HM-1")
    clock.forward(days=3 * 366 + 1)
    erased = personal_data.erase(any_services, any_actor, LOGIN)
    assert erased.records_left == 0
    left = everything(any_services)
    assert not [word for word in (LOGIN, NAME, NUMBER) if word in left]
    pseudonym = f"person:{erased.pseudonym}"
    entries = audit.listed(any_services, any_actor, PageRequest(), Filter(actor=pseudonym)).items
    assert [entry.data["change"] for entry in entries] == ["registered"]


def test_the_login_is_free_again_and_a_second_erasure_finds_nobody(
    any_services: Services, any_actor: Actor, person: Actor
) -> None:
    personal_data.erase(any_services, any_actor, LOGIN)
    with pytest.raises(NotFound):
        personal_data.erase(any_services, any_actor, LOGIN)
    people.create(any_services, any_actor, NewPerson(LOGIN, "Another", "technician", "a long password"))


def test_another_owners_person_is_not_found(any_services: Services, person: Actor) -> None:
    stranger = Actor(person.organisation_id + 1, "person:eve", "administrator")
    for call in (personal_data.export, personal_data.erase):
        with pytest.raises(NotFound):
            call(any_services, stranger, LOGIN)


def test_every_column_that_says_who_is_known() -> None:
    """A new table's column ``…_by`` is erased without anybody thinking of it."""
    found = {f"{table.name}.{column.name}" for table, column in personal_data.personal_data.actor_columns()}
    assert {"events.actor", "transfers.recorded_by", "alarms.acknowledged_by", "pairs.recorded_by"} <= found
    assert timedelta(days=3 * 365) <= personal_data.RECORDS_KEPT
