import pytest

from service.operations import cylinders, overview
from service.operations.support.context import Actor, Services
from service.store import overview as stored
from tests.support.clock import Clock


def test_only_serials_that_were_handled_last_complete_what_is_typed(
    services: Services, actor: Actor, monkeypatch: pytest.MonkeyPatch, clock: Clock
) -> None:
    monkeypatch.setattr(stored, "OFFERED", 2)
    for serial in ("HM-1", "HM-2", "HM-3"):
        cylinders.register(services, actor, serial, {"place": "shop"})
        clock.forward(seconds=60)
    cylinders.correct(services, actor, "HM-1", {"owner": "yard"}, lambda _: True)
    assert list(overview.serials(services, actor)) == ["HM-1", "HM-3"]
