"""Filling by hand on a live scale: every weight is the scale's, a typed one stays possible, and the place is kept."""

from collections.abc import Callable
from typing import Any

import pytest
from flask.testing import FlaskClient

from service.board.views.recovery import share_of
from service.operations import cylinders, hookups, transfers
from service.operations.hookups import NewHookup
from service.operations.support.context import Actor, Services
from service.operations.support.weights import AGREE_KG
from service.store.paging import PageRequest
from service.units import kg_from_lb
from tests.board.conftest import Visitor
from tests.support.clock import Clock
from tests.support.live_batches import following, with_state

DEVICE, PAGE = "urn:dev:x:set", "/cylinders/HM-1/fill"
TARE_KG = 12.4
STAMPED = {
    "place": "shop", "marks": "DOT-4BA400", "water_capacity_kg": 21.6, "tare_kg": TARE_KG, "gross_mass_kg": TARE_KG,
    "evacuated": True, "requalification_stamp": "06 A123 23",
}  # fmt: skip
Weigh = Callable[[float], None]


@pytest.fixture
def weighs(services: Services, actor: Actor, worker: FlaskClient, technician: FlaskClient) -> Weigh:
    """Have the worker say what the scale under the cylinder shows [kg], as the real one says it."""
    cylinders.register(services, actor, "HM-1", dict(STAMPED))
    hookup = hookups.attach(services, actor, NewHookup("HM-1", DEVICE, DEVICE))
    told: dict[str, Any] = technician.get(f"/api/v1/hookups/{hookup.id}").json or {}

    def say(gross_kg: float) -> None:
        followed = following(told, services.now(), seconds=120.0, values={"mass": ("kg", gross_kg)})
        assert followed["hookups"][0]["mass_kg"] == pytest.approx(gross_kg)
        said = [with_state(followed["hookups"][0], "settled")]
        assert worker.put("/api/v1/live", json={**followed, "hookups": said}).status_code == 200

    return say


def moved(services: Services, actor: Actor) -> list[float]:
    found = transfers.listed(services, actor, PageRequest(10), serial="HM-1").items
    return [one.mass_kg for one in found]


def check(at: Visitor, **typed: str) -> str:
    fields = {"step": "check", "designation": "R-410A", "phase": "liquid", **typed}
    sent = at.send(PAGE, **fields)
    assert (sent.status_code, sent.headers["Location"]) == (303, PAGE)
    return at.get(PAGE).text


def test_the_scale_says_every_weight_and_the_technician_only_confirms(
    technician_at: Visitor, services: Services, actor: Actor, weighs: Weigh
) -> None:
    weighs(TARE_KG)
    assert f'href="{PAGE}"' in technician_at.get("/cylinders/HM-1").text
    assert "On the scale now <b>27.3" in technician_at.get(PAGE).text
    page = check(technician_at)
    assert "Stop at" in page and "Keep going" in page and 'value="0"' in page
    weighs(TARE_KG + 4.0)
    page = technician_at.get(PAGE).text
    assert f"Now <b>{(TARE_KG + 4.0) / kg_from_lb(1.0):.1f}" in page and "8.8\u202flb in it so far" in page
    sent = technician_at.send(PAGE, step="done")
    assert (sent.status_code, sent.headers["Location"]) == (303, "/cylinders/HM-1")
    assert moved(services, actor) == [pytest.approx(4.0)]
    assert "Keep going" not in technician_at.get(PAGE).text, "the next fill starts over"


def test_another_phone_goes_on_where_a_dead_one_was(
    person: Callable[[str], Visitor], technician_at: Visitor, weighs: Weigh
) -> None:
    weighs(TARE_KG)
    check(technician_at)
    weighs(TARE_KG + 2.0)
    other = person("supervisor")
    assert "4.4\u202flb in it so far" in other.get(PAGE).text
    check(other)
    assert "4.4\u202flb in it so far" in other.get(PAGE).text, (
        "a second check does not lose what is in already"
    )
    other.send(PAGE, step="again")
    assert "in it so far" not in technician_at.get(PAGE).text


def test_at_the_weight_it_says_stop_and_what_the_hand_does(technician_at: Visitor, weighs: Weigh) -> None:
    weighs(TARE_KG)
    check(technician_at)
    weighs(TARE_KG + 18.0)
    page = technician_at.get(PAGE).text
    assert "STOP" in page and "Switch the recovery machine off, then close" in page


def test_without_a_scale_both_weights_are_typed(
    technician_at: Visitor, services: Services, actor: Actor
) -> None:
    cylinders.register(services, actor, "HM-1", dict(STAMPED))
    assert "no scale is heard under it" in check(technician_at)
    page = check(technician_at, gross_before="27.4")
    assert "Nobody warns you" in page and "Stop at" in page
    technician_at.send(PAGE, step="done")
    assert moved(services, actor) == []
    assert "Not done" in technician_at.get(PAGE).text
    assert technician_at.send(PAGE, step="as-it-is", gross="37.4").headers["Location"] == "/cylinders/HM-1"
    assert moved(services, actor) == [pytest.approx(kg_from_lb(10.0))]


def test_a_scale_that_fell_silent_is_not_believed(
    technician_at: Visitor, services: Services, actor: Actor, weighs: Weigh, clock: Clock
) -> None:
    weighs(TARE_KG)
    check(technician_at)
    weighs(TARE_KG + 4.0)
    clock.forward(minutes=2)
    page = technician_at.get(PAGE).text
    assert "No scale heard" in page and "Now <b>" not in page
    technician_at.send(PAGE, step="done")
    assert moved(services, actor) == []


def test_what_may_not_go_in_is_refused_with_its_reason_before_a_valve_is_opened(
    technician_at: Visitor, services: Services, actor: Actor, weighs: Weigh
) -> None:
    cylinders.correct(services, actor, "HM-1", {"requalification_stamp": "06 A123 09"}, lambda _now: True)
    weighs(TARE_KG)
    page = check(technician_at)
    assert "Not allowed" in page and "Stop at" not in page and 'value="done"' not in page


def test_what_record_and_scale_differ_by_is_said(technician_at: Visitor, weighs: Weigh) -> None:
    weighs(TARE_KG + 3 * AGREE_KG)
    assert "The difference is not part of this fill" in check(technician_at)
    technician_at.send(PAGE, step="again")
    weighs(TARE_KG)
    assert "The difference is not part" not in check(technician_at)


@pytest.mark.parametrize(
    ("gross_kg", "before_kg", "share"),
    [
        (None, 12.0, 0),
        (12.0, 12.0, 0),
        (15.0, 12.0, 50),
        (18.0, 12.0, 100),
        (19.0, 12.0, 100),
        (11.0, 12.0, 0),
    ],
)
def test_how_far_it_is_counts_from_the_weight_before(
    gross_kg: float | None, before_kg: float, share: int
) -> None:
    assert share_of(gross_kg, before_kg, 18.0) == share
    assert share_of(gross_kg, None, 18.0) == share_of(gross_kg, 18.0, 18.0) == 0
