"""Tokens and people: let in while they are valid, and not a moment longer."""

import threading
from datetime import timedelta

import pytest

from service.operations import bootstrap, device_credentials, people, retention, tokens
from service.operations.people import NewPerson
from service.operations.support import passwords
from service.operations.support.context import Actor, Services
from service.operations.support.errors import Conflict, Invalid, NotFound, Unavailable
from service.outbound.broker_access import verifies
from service.store.tables import tokens as token_table
from tests.support.clock import Clock
from tests.support.waiting import until


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
    secrets = [people.begin_session(services, person) for _ in range(2)]
    assert [people.signed_in(services, secret) for secret in secrets] == [person, person]
    people.set_password(services, actor, person.id, "another long password")
    assert [people.signed_in(services, secret) for secret in secrets] == [None, None]
    assert people.sign_in(services, "rosa", "another long password") is not None


def test_a_session_ends_by_signing_out_or_after_a_month(
    services: Services, actor: Actor, clock: Clock
) -> None:
    person = people.create(services, actor, NewPerson("rosa", "Rosa", "technician", "correct horse battery"))
    first, second = (people.begin_session(services, person) for _ in range(2))
    people.end_session(services, first)
    assert [people.signed_in(services, secret) for secret in (first, second)] == [None, person]
    assert people.signed_in(services, "made up") is None
    clock.forward(days=31)
    assert people.signed_in(services, second) is None
    removed = {one.what: one.rows for one in retention.maintain(services)}
    assert removed["sessions that are over"] == 2


@pytest.mark.parametrize(("first_try", "places"), [(False, 1), (True, 2)])
def test_passwords_are_checked_a_few_at_once_and_not_too_many_wait(first_try: bool, places: int) -> None:
    running, most, gate = [0], [0], threading.Event()
    admitted = places * (passwords.AT_ONCE + passwords.MOST_WAITING)

    class Slow:
        def verify(self, _kept: str, _password: str) -> bool:
            running[0] += 1
            most[0] = max(most[0], running[0])
            gate.wait(10)
            running[0] -= 1
            return True

    outcomes: list[object] = []

    def attempt() -> None:
        try:
            outcomes.append(passwords.fits("guess", "hash", first_try=first_try))
        except Unavailable as busy:
            outcomes.append(busy.retry_after_s)

    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(passwords, "_hasher", Slow)
        threads = [threading.Thread(target=attempt) for _ in range(60)]
        for thread in threads:
            thread.start()
        until(lambda: len(outcomes) == 60 - admitted)
        gate.set()
        for thread in threads:
            thread.join(10)
    assert most[0] == passwords.AT_ONCE
    assert outcomes.count(True) == admitted


@pytest.mark.parametrize(("role", "password"), [("king", "correct horse battery"), ("technician", "short")])
def test_bad_people_are_refused(services: Services, actor: Actor, role: str, password: str) -> None:
    with pytest.raises(Invalid):
        people.create(services, actor, NewPerson("rosa", "Rosa", role, password))


def test_a_first_run_that_fails_leaves_nothing(services: Services, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*_: object, **__: object) -> None:
        raise RuntimeError

    with monkeypatch.context() as broken, pytest.raises(RuntimeError):
        broken.setattr("service.operations.tokens.create", fail)
        bootstrap.set_up(services, "home", "admin", "shop")
    assert bootstrap.organisation_id(services, "home") is None
    assert bootstrap.set_up(services, "home", "admin", "shop") is not None


def test_the_first_run_lets_somebody_begin_and_happens_once(services: Services) -> None:
    made = bootstrap.set_up(services, "home", "admin", "shop", elevation_m=100.0)
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
    assert bootstrap.set_up(services, "home", "other", "shop") is None
    assert people.sign_in(services, "other", made.password) is None
