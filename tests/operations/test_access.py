"""Tokens and people: let in while they are valid, and not a moment longer."""

from datetime import timedelta

import pytest

from service.operations import device_credentials, first_run, people, tokens
from service.operations.context import Actor, Services
from service.operations.errors import Conflict, Invalid, NotFound
from service.operations.people import NewPerson
from service.outbound.broker_access import verifies
from service.store.tables import tokens as token_table
from tests.support.clock import Clock


def test_a_token_acts_for_its_owner(any_services: Services, any_actor: Actor) -> None:
    made = tokens.create(any_services, any_actor, name="gateway", scope="worker")
    found = tokens.actor_of(any_services, made.secret)
    assert found == Actor(any_actor.organisation_id, "token:gateway", "worker")
    assert tokens.actor_of(any_services, made.secret + "x") is None


def test_the_secret_is_kept_nowhere(services: Services, actor: Actor) -> None:
    made = tokens.create(services, actor, name="gateway", scope="worker")
    with services.database.reading(actor.organisation_id) as work:
        (row,) = work.connection.execute(work.select(token_table)).mappings()
    assert made.secret not in str(dict(row))
    assert len(row["digest"]) == 64


def test_a_token_ends(services: Services, actor: Actor, clock: Clock) -> None:
    expires = clock() + timedelta(days=1)
    brief = tokens.create(services, actor, name="brief", scope="reader", expires_at=expires)
    assert tokens.actor_of(services, brief.secret) is not None
    clock.forward(days=1)
    assert tokens.actor_of(services, brief.secret) is None
    long = tokens.create(services, actor, name="long", scope="reader")
    tokens.revoke(services, actor, long.token.id)
    assert tokens.actor_of(services, long.secret) is None
    with pytest.raises(NotFound):
        tokens.revoke(services, actor, long.token.id)


def test_last_use_is_shown_to_the_minute(services: Services, actor: Actor, clock: Clock) -> None:
    made = tokens.create(services, actor, name="gateway", scope="worker")
    for _ in range(3):
        tokens.actor_of(services, made.secret)
        clock.forward(seconds=10)
    (listed,) = tokens.listed(services, actor)
    assert listed.last_used_at == clock() - timedelta(seconds=30)


def test_an_unknown_scope_is_refused(services: Services, actor: Actor) -> None:
    with pytest.raises(Invalid, match="one of worker"):
        tokens.create(services, actor, name="x", scope="root")


def test_a_person_signs_in_by_password_alone(services: Services, actor: Actor) -> None:
    new = NewPerson("rosa", "Rosa Example", "technician", "correct horse battery", "CERT-1")
    person = people.create(services, actor, new)
    assert people.sign_in(services, "rosa", "correct horse battery") == person
    assert people.sign_in(services, "rosa", "wrong") is None
    assert people.sign_in(services, "nobody", "correct horse battery") is None
    assert people.actor_of(person).name == "person:rosa"
    with pytest.raises(Conflict, match="taken"):
        people.create(services, actor, new)


def test_a_new_password_ends_every_session(services: Services, actor: Actor) -> None:
    person = people.create(services, actor, NewPerson("rosa", "Rosa", "technician", "correct horse battery"))
    owner = actor.organisation_id
    assert people.signed_in(services, owner, person.id, person.session_epoch) is not None
    people.set_password(services, actor, person.id, "another long password")
    assert people.signed_in(services, owner, person.id, person.session_epoch) is None
    assert people.sign_in(services, "rosa", "another long password") is not None


@pytest.mark.parametrize(("role", "password"), [("king", "correct horse battery"), ("technician", "short")])
def test_bad_people_are_refused(services: Services, actor: Actor, role: str, password: str) -> None:
    with pytest.raises(Invalid):
        people.create(services, actor, NewPerson("rosa", "Rosa", role, password))


def test_a_first_run_that_fails_leaves_nothing(services: Services, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*_: object, **__: object) -> None:
        raise RuntimeError

    with monkeypatch.context() as broken, pytest.raises(RuntimeError):
        broken.setattr("service.operations.tokens.create", fail)
        first_run.set_up(services, "home", "admin", "shop")
    assert first_run.organisation_id(services, "home") is None
    assert first_run.set_up(services, "home", "admin", "shop") is not None


def test_the_first_run_lets_somebody_begin_and_happens_once(services: Services) -> None:
    made = first_run.set_up(services, "home", "admin", "shop", elevation_m=100.0)
    assert made is not None
    assert people.sign_in(services, made.login, made.password) is not None
    for scope, secret in made.tokens.items():
        found = tokens.actor_of(services, secret)
        assert found is not None
        assert found.scope == scope
    assert set(made.tokens) == {"technician", "supervisor", "reader", "worker"}
    users = {user.username: user for user in device_credentials.broker_users(services, "heelmark", [], {})}
    assert verifies(made.gateway_password, users[made.gateway].password_hash)
    assert users[made.gateway].may_publish == "heelmark/shop/readings/+"
    assert first_run.set_up(services, "home", "other", "shop") is None
    assert people.sign_in(services, "other", made.password) is None
