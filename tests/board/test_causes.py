"""Causes are counted once, dangers stand alone on top, and having seen one ends nothing."""

from datetime import timedelta

import pytest

from service.board.views.alarms import age
from service.operations import cylinders
from service.operations.support.context import Actor, Services
from service.store import alarms
from service.store import cylinders as stored
from tests.board.conftest import Visitor
from tests.board.test_pages import STAMPED
from tests.support.clock import Clock


@pytest.fixture(autouse=True)
def _raised(services: Services, actor: Actor, clock: Clock) -> None:
    """Fifty overdue, two of them seen, one hot and critical."""
    for k in range(51):
        cylinders.register(services, actor, f"HM-{k:02}", {**STAMPED})
    with services.database.writing(actor.organisation_id) as work:
        for one in alarms.open_ones(work):
            alarms.clear(work, one.id, services.now())
        for k, row in enumerate(stored.everything(work)):
            code, severity = ("overdue", "warning") if k else ("hot", "critical")
            made = alarms.insert(
                work, code=code, severity=severity, cylinder_id=row.id,
                text=f"Cylinder {row.serial}: since 2014", details={}, raised_at=services.now(),
            )  # fmt: skip
            if k in (1, 2):
                alarms.acknowledge(work, made, at=services.now(), by="person:sam")
    clock.forward(seconds=3 * 86_400)


def test_one_line_a_cause_and_dangers_one_by_one(technician_at: Visitor) -> None:
    page = technician_at.get("/alarms").text
    assert "51 need somebody, 2 causes" in page
    assert page.count('class="cause ') == 1
    assert page.count('<article class="alarm level-danger"') == 1
    assert "oldest 3 days" in page
    assert "seen by 2 of 50" in page
    assert "Ends when it was retested." in page


def test_an_open_cause_shows_its_cylinders_page_by_page(technician_at: Visitor) -> None:
    page = technician_at.get("/alarms?cause=overdue").text
    assert page.count('<article class="alarm level-attention"') == 40
    after = page.split("after=", 1)[1].split("#", 1)[0].split('"', 1)[0]
    rest = technician_at.get(f"/alarms?cause=overdue&after={after}").text
    assert rest.count('<article class="alarm level-attention"') == 10


def test_all_of_a_cause_are_seen_at_once_and_none_of_it_ends(technician_at: Visitor) -> None:
    assert technician_at.send("/alarms/overdue/acknowledgements").status_code == 303
    page = technician_at.get("/alarms").text
    assert "Acknowledged: 48" in page
    assert "51 need somebody" in page
    assert "seen by all 50" in page


def test_a_danger_is_never_acknowledged_with_others(technician_at: Visitor) -> None:
    technician_at.send("/alarms/hot/acknowledgements")
    assert (
        'action="/alarms/1' in technician_at.get("/alarms").text
        or "Acknowledge: " in technician_at.get("/alarms").text
    )


@pytest.mark.parametrize(
    ("minutes", "told"),
    [(0, "0 min"), (59, "59 min"), (60, "1 hour"), (130, "2 hours"), (1440, "1 day"), (86_400, "2 months")],
)
def test_ages(minutes: int, told: str) -> None:
    assert age(timedelta(minutes=minutes)) == told
