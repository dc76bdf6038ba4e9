"""A key is claimed once; who comes second waits and gets the first one's answer."""

import threading
import time

from service.operations.support.context import Actor, Services
from service.store import idempotency
from service.store.idempotency import Given


def test_a_key_is_answered_again(any_services: Services, any_actor: Actor) -> None:
    database, owner = any_services.database, any_actor.organisation_id
    with database.writing(owner) as work:
        assert idempotency.claim(work, "k", "digest", any_services.now()) is None
        idempotency.answer(work, "k", status=201, headers="{}", body=b"made")
    with database.writing(owner) as work:
        given = idempotency.claim(work, "k", "digest", any_services.now())
    assert given == Given("digest", 201, "{}", b"made")
    with database.writing(owner + 1) as work:
        assert idempotency.by_key(work, "k") is None


def test_two_at_once_do_it_once(any_services: Services, any_actor: Actor) -> None:
    database, owner = any_services.database, any_actor.organisation_id
    outcomes: list[Given | None] = []

    def ask() -> None:
        with database.writing(owner) as work:
            given = idempotency.claim(work, "k", "digest", any_services.now())
            if given is None:
                time.sleep(0.1)
                idempotency.answer(work, "k", status=201, headers="{}", body=b"first")
            outcomes.append(given)

    threads = [threading.Thread(target=ask) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert outcomes.count(None) == 1
    assert [given.body for given in outcomes if given] == [b"first"] * 3


def test_old_keys_are_forgotten(services: Services, actor: Actor) -> None:
    with services.database.writing(actor.organisation_id) as work:
        idempotency.claim(work, "old", "d", services.now())
    with services.database.unowned() as connection:
        assert idempotency.forget_before(connection, services.now()) == 0
    services.now.forward(days=1)  # type: ignore[attr-defined]
    with services.database.unowned() as connection:
        assert idempotency.forget_before(connection, services.now()) == 1
