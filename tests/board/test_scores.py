"""The page on how right it has been: what few results say, and where the drawing puts them."""

import re

import pytest

from service.board.quantities import SPACE
from service.board.reliability_diagram import BOTTOM, LEFT, RIGHT, TOP, WIDTH, reliability_diagram
from service.board.views.scores import scores as view
from service.operations import analyses, scores
from service.operations.analyses import NewAnalysis
from service.operations.support.context import Actor, Services
from service.store.paging import PageRequest
from service.verdict.truth.intervals import proportion
from service.verdict.truth.scores import Bin
from tests.board.conftest import Visitor
from tests.operations.test_analyses import judged


def established(services: Services, actor: Actor, names: list[str]) -> None:
    for number, name in enumerate(names):
        judged(services, actor, f"HM-{number}")
        analyses.record(services, actor, NewAnalysis(f"HM-{number}", "laboratory", name))


def test_the_page_says_how_right_and_how_little_twenty_say(
    services: Services, actor: Actor, technician_at: Visitor
) -> None:
    established(services, actor, ["R-22"] * 18 + ["R-12", "R-134a"])
    text = " ".join(re.sub("<[^>]*>", " ", technician_at.get("/scores").text).split())
    assert "named first was right in 18 of 20 established cylinders" in text
    assert "97 % sure on average" in text
    # Wilson's 95 % interval of 18 of 20: 0.699 to 0.972.
    assert "So few say little: of many such cylinders it may be right in anything between 70 and 97" in text
    assert re.search(r"within 5 points either way takes about \d{3} established cylinders", text)


def test_verdicts_that_were_too_sure_are_told_so(services: Services, actor: Actor) -> None:
    established(services, actor, ["R-22"] * 3 + ["R-12"] * 7)
    told = view(scores.read(services, actor))
    assert any("right less often than they said" in line for line in told.doubt)
    assert not any("agrees with how sure" in line for line in told.doubt)


def test_nothing_is_drawn_and_nothing_claimed_without_a_result(
    services: Services, actor: Actor, technician_at: Visitor
) -> None:
    told = view(scores.read(services, actor))
    assert (told.doubt, told.facts, told.diagram, told.groups) == ((), (), None, ())
    assert "Nobody has told yet" in technician_at.get("/scores").text


def test_the_drawing_puts_sure_across_and_right_up() -> None:
    drawn = reliability_diagram([Bin(0.5, 0.7, 0.5, proportion(4, 4)), Bin(0.97, 1.0, 1.0, proportion(0, 2))])
    assert drawn is not None
    half, whole = drawn.marks
    assert (half.x, half.y, half.top, half.cases) == (pytest.approx((LEFT + WIDTH - RIGHT) / 2), TOP, TOP, 4)
    assert (whole.x, whole.y, whole.bottom) == (WIDTH - RIGHT, BOTTOM, BOTTOM)
    assert half.top < half.bottom < BOTTOM
    assert reliability_diagram([]) is None


def test_a_result_is_typed_on_the_cylinders_page(
    services: Services, actor: Actor, technician_at: Visitor
) -> None:
    judged(services, actor, "HM-1")
    assert "What it turned out to hold" in technician_at.get("/cylinders/HM-1").text
    given = {"kind": "laboratory", "contamination": "unsaid", "designation": "r22", "others": "0"}
    assert technician_at.send("/cylinders/HM-1/result", **given).status_code == 303
    assert scores.read(services, actor).overall.right_first.count == 1
    page = technician_at.send("/cylinders/HM-1/result", kind="laboratory", contamination="unsaid")
    assert "expected" in page.text or "a designation" in page.text
    assert page.status_code == 422
    assert "Result (laboratory): R-22 alone" in technician_at.get("/cylinders/HM-1").text


def test_a_result_is_dated_by_the_beginning_of_its_day(
    services: Services, actor: Actor, technician_at: Visitor
) -> None:
    """So that it never vouches for what was read or filled later that day."""
    judged(services, actor, "HM-1")
    given = {"kind": "laboratory", "contamination": "none", "designation": "R-22"}
    wrong = technician_at.send("/cylinders/HM-1/result", **given, sampled_on="last week")
    assert "is not a day such as" in wrong.text
    technician_at.send("/cylinders/HM-1/result", **given, sampled_on=services.now().date().isoformat())
    (kept,) = analyses.listed(services, actor, PageRequest(10), serial=None).items
    assert kept.sampled_at == services.now().replace(hour=0, minute=0)


def test_a_result_that_names_nothing_is_told_as_such(services: Services, actor: Actor) -> None:
    judged(services, actor, "HM-1")
    analyses.record(services, actor, NewAnalysis("HM-1", "rejection", contamination="mixed"))
    told = view(scores.read(services, actor))
    assert told.unscored == "1 result names no refrigerant: only what was with it is counted."
    assert told.groups == ()
    assert ("Contaminated, nothing detected", f"1 of 1 (21 to 100{SPACE}%)") in told.facts
