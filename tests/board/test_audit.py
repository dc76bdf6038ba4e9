"""Who did what across the fleet, by whom, cylinder, kind and day."""

from collections.abc import Callable

import pytest

from service.operations import cylinders, holds
from service.operations.support.context import Actor, Services
from tests.board.conftest import Visitor
from tests.board.test_pages import STAMPED
from tests.support.clock import Clock


@pytest.fixture
def supervisor(person: Callable[[str], Visitor], services: Services, actor: Actor, clock: Clock) -> Visitor:
    """Two cylinders, one put on hold a day later by somebody else."""
    made = person("supervisor")
    for serial in ("HM-1", "HM-2"):
        cylinders.register(services, actor, serial, {**STAMPED})
    clock.forward(seconds=86_400)
    rosa = Actor(actor.organisation_id, "person:rosa", "technician")
    holds.place(services, rosa, "HM-2", "smells burnt")
    made.sign_in("supervisor")
    return made


def listed(visitor: Visitor, query: str) -> str:
    return visitor.get(f"/who?{query}").text.split("</form>", 2)[-1]


def test_everything_newest_first(supervisor: Visitor) -> None:
    page = listed(supervisor, "")
    assert page.index("smells burnt") < page.index("Registered")


@pytest.mark.parametrize(
    ("query", "there", "not_there"),
    [
        ("who=rosa", "smells burnt", "Registered"),
        ("cylinder=HM-1", "Registered", "smells burnt"),
        ("day=2026-05-05", "smells burnt", "Registered"),
        ("what=heelmark.alarm.acknowledged", "Nothing that was asked for", "smells burnt"),
        ("day=tomorrow", "smells burnt", "no such words"),
    ],
)
def test_what_is_asked_for(supervisor: Visitor, query: str, there: str, not_there: str) -> None:
    page = listed(supervisor, query)
    assert there in page
    assert not_there not in page


def test_a_day_that_is_none_is_told(supervisor: Visitor) -> None:
    assert "expected a date such as 2026-05-04" in supervisor.get("/who?day=tomorrow").text


def test_a_technician_is_told_who_may(technician_at: Visitor) -> None:
    told = technician_at.get("/who")
    assert told.status_code == 403
    assert "Only a supervisor" in told.text
