"""A reading tried without a cylinder says what it fits, and leaves nothing behind."""

from service.operations import cylinders
from service.operations.support.context import Actor, Services
from service.store.paging import PageRequest
from tests.board.conftest import Visitor
from tests.support.judge import ScriptedJudge

TYPED = "/try?temperature=77&pressure=136.8&kind=gauge&barometer=14.4"


def test_it_is_a_form_first_and_needs_no_more_than_two_numbers(technician_at: Visitor) -> None:
    page = technician_at.get("/try").text
    assert "Try a reading" in page and "What it may be" not in page
    assert "Pressure: nothing was given" in technician_at.get("/try?temperature=77&pressure=&kind=gauge").text


def test_it_says_what_the_reading_fits_and_keeps_nothing(
    technician_at: Visitor, services: Services, actor: Actor, judge: ScriptedJudge
) -> None:
    page = technician_at.get(TYPED + "&claimed=r22")
    assert page.status_code == 200 and "What it may be" in page.text
    ((pair,), facts) = judge.asked[-1]
    assert abs(pair.pressure_pa - (136.8 + 14.4) * 6894.757) < 2.0
    assert facts.claimed_designation == "R-22"
    assert cylinders.listed(services, actor, PageRequest(), place=None, designation=None).items == []


def test_what_makes_no_sense_is_named(technician_at: Visitor) -> None:
    assert "is not a number" in technician_at.get("/try?temperature=warm&pressure=136&kind=gauge").text
    assert "R-9999" in technician_at.get(TYPED + "&claimed=R-9999").text
