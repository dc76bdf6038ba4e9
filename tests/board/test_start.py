"""The technician's first page: what it asks, what it remembers, and where each choice leads."""

import re
from collections.abc import Callable

import pytest
from flask.testing import FlaskClient

from service.operations import cylinders, holds, hookups, places
from service.operations.hookups import NewHookup
from service.operations.support.context import Actor, Services
from tests.board.conftest import Visitor
from tests.support.live_batches import heard

GAUGE, CLAMP = "urn:dev:x:gauge", "urn:dev:x:clamp"
STAMPED = {
    "place": "shop", "marks": "DOT-4BA400", "water_capacity_kg": 21.6, "tare_kg": 12.4, "gross_mass_kg": 12.4,
    "evacuated": True, "requalification_stamp": "06 A123 23",
}  # fmt: skip
CHOICES = {
    "Take refrigerant out": "/recoveries/new",
    "Find out what is in one": "/hook-up",
    "Go through a van": "/register",
    "Hand over": "/hand-over",
    "It leaks": "/help/leak",
}


def links(page: str) -> dict[str, str]:
    """Addresses of the page's links by their text."""
    found = re.findall(r'<a [^>]*href="([^"]+)"[^>]*>(.*?)</a>', page, re.DOTALL)
    return {re.sub(r"\s+", " ", re.sub(r"<[^>]+>", "", text)).strip(): url for url, text in found}


@pytest.fixture
def two_places(services: Services, actor: Actor) -> None:
    places.create(services, actor, name="van-2", kind="van", elevation_m=0.0)


@pytest.mark.parametrize(
    ("role", "first"), [("technician", "/start"), ("supervisor", "/rack"), ("administrator", "/rack")]
)
def test_a_technician_begins_with_the_task_and_a_supervisor_with_the_cylinders(
    person: Callable[[str], Visitor], role: str, first: str
) -> None:
    somebody = person(role)
    assert somebody.sign_in(role).headers["Location"] == first
    assert somebody.get("/").headers["Location"] == first
    assert f'class="wordmark" href="{first}"' in somebody.get("/alarms").text


def test_every_task_is_one_tap_away_and_its_page_is_there(technician_at: Visitor) -> None:
    found = links(technician_at.get("/start").text)
    for title, path in CHOICES.items():
        (url,) = {url for text, url in found.items() if text.startswith(title)}
        assert url == path, title
        assert technician_at.get(url).status_code == 200


def test_it_leaks_stands_once(technician_at: Visitor) -> None:
    assert technician_at.get("/start").text.count('/help/leak"') == 1


def test_the_only_place_is_his_and_one_of_several_is_asked_for_and_remembered(
    technician_at: Visitor, services: Services, actor: Actor
) -> None:
    assert '<b>shop</b> <span class="faint">change' in technician_at.get("/start").text
    places.create(services, actor, name="van-2", kind="van", elevation_m=0.0)
    assert "Where are you?" in technician_at.get("/start").text
    sent = technician_at.send("/start/place", place="van-2")
    assert (sent.status_code, sent.headers["Location"]) == (303, "/start")
    assert "<b>van-2</b>" in technician_at.get("/start").text
    another_phone = Visitor(technician_at.client.application.test_client())
    another_phone.sign_in("technician")
    assert "<b>van-2</b>" in another_phone.get("/start").text
    assert re.search(r'<option value="van-2" selected>', another_phone.get("/register").text)


@pytest.mark.usefixtures("two_places")
def test_a_place_that_is_none_is_not_remembered(technician_at: Visitor) -> None:
    technician_at.send("/start/place", place="nowhere")
    assert "Where are you?" in technician_at.get("/start").text


def test_what_stands_under_a_task_is_true_of_his_place(
    technician_at: Visitor, services: Services, actor: Actor, two_places: None
) -> None:
    cylinders.register(services, actor, "HM-1", dict(STAMPED))
    cylinders.register(services, actor, "HM-2", dict(STAMPED))
    technician_at.send("/start/place", place="shop")
    assert "2 cylinders here have room" in technician_at.get("/start").text
    holds.place(services, actor, "HM-2", "smells burnt")
    assert "1 cylinder here has room" in technician_at.get("/start").text
    technician_at.send("/start/place", place="van-2")
    assert "No cylinder here has room" in technician_at.get("/start").text


def test_the_set_that_he_hooked_up_is_remembered_and_offered_first(
    technician_at: Visitor, services: Services, actor: Actor, worker: FlaskClient
) -> None:
    cylinders.register(services, actor, "HM-1", dict(STAMPED))
    worker.put("/api/v1/live", json=heard(GAUGE, CLAMP, at=services.now()))
    assert "No gauge set yet" in technician_at.get("/start").text
    devices = {"pressure_device": GAUGE, "temperature_device": CLAMP}
    sent = technician_at.send("/hook-up", cylinder="hm-1", valve="vapour", **devices)
    assert (sent.status_code, sent.headers["Location"]) == (303, "/cylinders/HM-1")
    page = technician_at.get("/start").text
    assert "It is on" in page and "HM-1" in page
    assert "75.2" in page and "now" in page
    assert "Your set is on" in technician_at.get("/hook-up").text
    technician_at.send("/cylinders/HM-1/unhook")
    offered = technician_at.get("/hook-up").text
    assert re.search(r'<option value="\d+" selected>', offered)
    alone = technician_at.get("/start?only=set").text
    assert 'id="my-set"' in alone and "<main" not in alone


def test_one_of_several_sets_is_chosen(
    technician_at: Visitor, services: Services, actor: Actor, worker: FlaskClient
) -> None:
    cylinders.register(services, actor, "HM-1", dict(STAMPED))
    worker.put("/api/v1/live", json=heard(GAUGE, CLAMP, at=services.now()))
    hookup = hookups.attach(services, actor, NewHookup("HM-1", GAUGE, CLAMP))
    hookups.detach(services, actor, hookup.id)
    sent = technician_at.send("/start/set", set=str(hookup.id))
    assert (sent.status_code, sent.headers["Location"]) == (303, "/start")
    assert "No gauge set yet" not in technician_at.get("/start").text


def test_without_a_set_a_reading_is_typed_and_an_unknown_serial_is_registered(
    technician_at: Visitor, services: Services, actor: Actor
) -> None:
    cylinders.register(services, actor, "HM-1", dict(STAMPED))
    sent = technician_at.send("/hook-up", cylinder="hm-1", step="type")
    assert (sent.status_code, sent.headers["Location"]) == (303, "/cylinders/HM-1/reading")
    unknown = technician_at.send("/hook-up", cylinder="HM-9", step="type")
    assert unknown.status_code == 422 and 'href="/register?serial=HM-9"' in unknown.text
    assert technician_at.send("/hook-up", step="type").status_code == 422


def test_the_worst_of_his_place_stands_first_and_leads_to_what_to_do(
    technician_at: Visitor, services: Services, actor: Actor, two_places: None
) -> None:
    over = {**STAMPED, "claimed_designation": "R-410A", "gross_mass_kg": 33.0}
    del over["evacuated"]
    cylinders.register(services, actor, "HM-1", over)
    technician_at.send("/start/place", place="shop")
    page = technician_at.get("/start").text
    worst = re.search(r'class="worst-one" href="([^"]+)">.*?<strong>(.*?)</strong>', page, re.DOTALL)
    assert worst is not None and worst[1] == "/cylinders/HM-1"
    assert re.sub(r"<[^>]+>", "", worst[2]).split() == ["HM-1", "Overfull"]
    technician_at.send("/start/place", place="van-2")
    assert "worst-one" not in technician_at.get("/start").text


def test_a_recovery_that_he_began_is_gone_on_with(
    technician_at: Visitor, services: Services, actor: Actor
) -> None:
    cylinders.register(services, actor, "HM-1", dict(STAMPED))
    typed = {
        "refrigerant": "R-410A",
        "cylinder_1": "HM-1",
        "method": "liquid",
        "appliance": "RTU-3",
        "charge": "5",
    }
    begun = technician_at.send("/recoveries/new", step="start", **typed)
    found = links(technician_at.get("/start").text)
    assert (
        found[next(text for text in found if text.startswith("Go on: RTU-3 into HM-1"))]
        == begun.headers["Location"]
    )


def test_what_may_go_is_chosen_from_a_list_or_typed(
    technician_at: Visitor, services: Services, actor: Actor
) -> None:
    full = {**STAMPED, "claimed_designation": "R-410A", "gross_mass_kg": 22.0}
    del full["evacuated"]
    cylinders.register(services, actor, "HM-1", full)
    assert "/cylinders/HM-1/exchange" in technician_at.get("/hand-over").text
    sent = technician_at.send("/hand-over", serial="hm-1")
    assert (sent.status_code, sent.headers["Location"]) == (303, "/cylinders/HM-1/exchange")
    assert technician_at.send("/hand-over", serial="none").status_code == 404


def test_suitable_cylinders_are_tapped_not_typed(
    technician_at: Visitor, services: Services, actor: Actor
) -> None:
    for serial, capacity in (("HM-1", 21.6), ("HM-2", 15.0)):
        cylinders.register(services, actor, serial, {**STAMPED, "water_capacity_kg": capacity})
    holds.place(
        services, actor, cylinders.register(services, actor, "HM-3", dict(STAMPED)).serial, "smells burnt"
    )
    typed = {"refrigerant": "R-410A", "method": "liquid", "charge": "5", "step": "check"}
    sent = technician_at.send("/recoveries/new", **typed)
    assert sent.status_code == 303
    page = technician_at.get("/recoveries/new").text
    assert re.findall(r'name="use" value="([^"]+)"', page) == ["HM-2", "HM-1"], "the smallest that does first"
    assert 'id="complaints"' not in page, "nothing was asked for yet that is missing"
    sent = technician_at.send("/recoveries/new", **{**typed, "use": "HM-2"})
    assert (sent.status_code, sent.headers["Location"]) == (303, "/recoveries/new#looked")
    page = technician_at.get("/recoveries/new").text
    assert 'name="cylinder_1" type="text" value="HM-2"' in page and "Start the recovery" in page
    assert re.findall(r'name="use" value="([^"]+)"', page) == ["HM-1"]
