"""Whatever locks several cylinders locks them in one order, so that two acts never wait for each other."""

from collections.abc import Callable

import pytest

from service.operations import cylinders, exchanges, recoveries, transfers
from service.operations.exchanges import NewExchange
from service.operations.recoveries import NewRecovery
from service.operations.support import lookup
from service.operations.support.context import Actor, Services
from service.operations.support.errors import Invalid, NotFound, OperationError
from service.operations.support.weights import Weighing
from service.operations.transfer_entry import NewTransfer
from service.store import cylinders as stored
from service.store.equipment import Equipment


@pytest.fixture
def order(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Serials in the order in which they are locked."""
    locked: list[str] = []
    real = stored.by_serial

    def noted(work, serial, *, lock=False):
        if lock:
            locked.append(serial)
        return real(work, serial, lock=lock)

    monkeypatch.setattr(stored, "by_serial", noted)
    return locked


def transfer(services: Services, actor: Actor) -> None:
    transfers.record(services, actor, NewTransfer("Z-1", "out", Weighing(mass_kg=1.0), to_cylinder="A-1"))


def recovery(services: Services, actor: Actor) -> None:
    recoveries.start(services, actor, NewRecovery(None, ("Z-1", "A-1"), Equipment()))


def exchange(services: Services, actor: Actor) -> None:
    received = {"serial": "A-1", "tare_kg": 12.0}
    exchanges.record(services, actor, NewExchange("Z-1", "Example Supply", "1", 20.0, received=received))


@pytest.mark.parametrize("act", [transfer, recovery, exchange], ids=lambda act: act.__name__)
def test_two_cylinders_are_locked_in_the_order_of_their_serials(
    services: Services, actor: Actor, order: list[str], act: Callable[[Services, Actor], None]
) -> None:
    for serial in ("Z-1", "A-1"):
        cylinders.register(services, actor, serial, {})
    order.clear()
    with pytest.raises(OperationError):
        act(services, actor)
    assert order[:2] == ["A-1", "Z-1"]


def test_one_that_is_unknown_is_named(services: Services, actor: Actor) -> None:
    cylinders.register(services, actor, "A-1", {})
    with pytest.raises(NotFound, match="Z-1"):
        recovery(services, actor)


def test_the_order_is_the_same_however_the_serials_are_typed(
    services: Services, actor: Actor, order: list[str]
) -> None:
    """Two technicians, one with capitals: by the text as typed each would wait for the other's cylinder."""
    for serial in ("B-2", "A-1"):
        cylinders.register(services, actor, serial, {})
    for typed in (("B-2", "a-1"), ("b-2", "A-1"), ("b-2", " a-1 ")):
        order.clear()
        with services.database.writing(actor.organisation_id) as work:
            lookup.all_locked(work, typed)
        assert [stored.strip().upper() for stored in order[:2]] == ["A-1", "B-2"], typed


@pytest.mark.parametrize("typed", ["a-1", " A-1"])
def test_one_cylinder_typed_twice_is_no_two_cylinders(services: Services, actor: Actor, typed: str) -> None:
    cylinders.register(services, actor, "A-1", {})
    with pytest.raises(Invalid, match="another cylinder"):
        transfers.record(services, actor, NewTransfer("A-1", "out", Weighing(mass_kg=1.0), to_cylinder=typed))
    with pytest.raises(Invalid, match="each once"):
        recoveries.start(services, actor, NewRecovery(None, ("A-1", typed), Equipment()))
