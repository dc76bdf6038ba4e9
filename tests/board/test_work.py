"""What people do to cylinders from the board; every refusal names its rules."""

import re
from collections.abc import Callable
from io import BytesIO

import pytest
from pypdf import PdfReader

from service.operations import cylinders, organisation, overview
from service.operations.support.context import Actor, Services
from tests.board.conftest import Visitor
from tests.support.judge import ScriptedJudge

STAMPED = {
    "place": "shop",
    "marks": "DOT-4BA400",
    "water_capacity_kg": 21.6,
    "tare_kg": 12.4,
    "gross_mass_kg": 12.4,
    "requalification_stamp": "06 A123 23",
}
INTO = {"direction": "in", "designation": "r410a", "mass": "10", "phase": "liquid", "appliance": "RTU-4"}


@pytest.fixture
def ready(services: Services, actor: Actor, technician_at: Visitor) -> str:
    """An evacuated, inspected cylinder."""
    cylinders.register(services, actor, "HM-1", STAMPED)
    sent = [
        technician_at.send("/cylinders/HM-1/care", kind="evacuation", microns="400"),
        technician_at.send("/cylinders/HM-1/care", kind="inspection", outcome="passed"),
    ]
    assert [answer.status_code for answer in sent] == [303, 303]
    return "HM-1"


def checked(visitor: Visitor, path: str, **fields: str) -> str:
    """What a check answers; its address asks the same again, and changes nothing."""
    asked = visitor.send(path, **fields, step="check")
    assert asked.status_code == 303
    assert "csrf" not in asked.location
    return visitor.get(asked.location).text


def test_the_check_comes_before_the_button(technician_at: Visitor, ready: str) -> None:
    path = f"/cylinders/{ready}/transfer"
    assert "Record the transfer</button>" not in technician_at.get(path).text
    found = checked(technician_at, path, **INTO)
    assert "No objections" in found
    assert "Record the transfer</button>" in found
    assert 'value="r410a"' in found


def test_the_room_that_a_check_states_is_the_room_after_it(technician_at: Visitor, ready: str) -> None:
    found = checked(technician_at, f"/cylinders/{ready}/transfer", **INTO)
    technician_at.send(f"/cylinders/{ready}/transfer", **INTO, step="record")
    room = re.search(r"After it there is room for ([\d.]+)", found)
    assert room is not None
    assert f"There is room for {room[1]}\u202flb" in technician_at.get(f"/cylinders/{ready}").text


def test_a_check_changes_nothing_and_a_record_does(
    technician_at: Visitor, ready: str, services: Services, actor: Actor
) -> None:
    technician_at.send(f"/cylinders/{ready}/transfer", **INTO, step="check")
    assert overview.one(services, actor, ready).judgement.belief.is_empty
    sent = technician_at.send(f"/cylinders/{ready}/transfer", **INTO, step="record")
    assert sent.status_code == 303
    held = overview.one(services, actor, ready).judgement.state.contents
    assert held.designation == "R-410A"
    assert held.mass_kg == pytest.approx(10 * 0.45359237)
    page = technician_at.get(f"/cylinders/{ready}").text
    assert "Put in: 10.0\u202flb R-410A" in page
    assert "Emptied and drawn to vacuum" in page


def test_a_wrong_refrigerant_is_refused_by_name_of_the_rule(technician_at: Visitor, ready: str) -> None:
    technician_at.send(f"/cylinders/{ready}/transfer", **INTO, step="record")
    other = {**INTO, "designation": "R-22"}
    path = f"/cylinders/{ready}/transfer"
    recording = technician_at.send(path, **other, step="record")
    assert recording.status_code == 422
    for refused in (checked(technician_at, path, **other), recording.text):
        assert "Not allowed" in refused
        assert "R-410A" in refused.split('id="check"')[1]
        assert "Record the transfer</button>" not in refused


def test_overfilling_is_refused_with_its_clause(technician_at: Visitor, ready: str) -> None:
    refused = checked(technician_at, f"/cylinders/{ready}/transfer", **{**INTO, "mass": "60"})
    assert "Not allowed" in refused
    assert "CFR" in refused.split('id="check"')[1]


def test_moving_into_another_cylinder_is_checked_there_too(
    technician_at: Visitor, ready: str, services: Services, actor: Actor
) -> None:
    technician_at.send(f"/cylinders/{ready}/transfer", **INTO, step="record")
    cylinders.register(services, actor, "HM-2", {**STAMPED, "marks": "DOT-39"})
    out = {"direction": "out", "mass": "2", "phase": "liquid", "to_cylinder": "HM-2"}
    refused = checked(technician_at, f"/cylinders/{ready}/transfer", **out)
    assert "Not allowed" in refused


def test_an_empty_one_on_hold_is_asked_about_going_in_and_told_of_the_hold(
    technician_at: Visitor, ready: str
) -> None:
    technician_at.send(f"/cylinders/{ready}/hold", reason="smells burnt")
    page = technician_at.get(f"/cylinders/{ready}/transfer").text
    assert re.search(r'value="in" required checked', page)
    refused = checked(technician_at, f"/cylinders/{ready}/transfer", **INTO)
    assert "Smells burnt" in refused.split('id="check"')[1]


def test_a_technician_sets_aside_and_a_supervisor_releases(
    person: Callable[[str], Visitor], services: Services, actor: Actor
) -> None:
    technician, supervisor = person("technician"), person("supervisor")
    cylinders.register(services, actor, "HM-1", STAMPED)
    technician.send("/cylinders/HM-1/hold", reason="smells burnt")
    assert "On hold: smells burnt" in technician.get("/rack").text
    assert "Only a supervisor releases a hold" in technician.get("/cylinders/HM-1/hold").text
    refused = technician.send("/cylinders/HM-1/holds/1/release", release_reason="fine")
    assert refused.status_code == 403
    assert overview.one(services, actor, "HM-1").known.holds
    assert (
        supervisor.send("/cylinders/HM-1/holds/1/release", release_reason="it was the shop").status_code
        == 303
    )
    assert not overview.one(services, actor, "HM-1").known.holds


def _top(page: str) -> str:
    """What is read before anything is opened: up to the tasks, without the parts that only a list shows."""
    return page.split('class="plate-more"')[1].split('class="tasks"')[0]


def test_a_held_cylinder_tells_its_reason_once(technician_at: Visitor, ready: str) -> None:
    technician_at.send(f"/cylinders/{ready}/hold", reason="smells burnt")
    assert _top(technician_at.get(f"/cylinders/{ready}").text).count("smells burnt") == 1


def test_an_overfull_cylinder_says_by_how_much(
    technician_at: Visitor, services: Services, actor: Actor
) -> None:
    overfull = {**STAMPED, "claimed_designation": "R-410A", "gross_mass_kg": STAMPED["tare_kg"] + 20.0}
    cylinders.register(services, actor, "HM-9", overfull)
    top = _top(technician_at.get("/cylinders/HM-9").text)
    limit_kg = overview.one(services, actor, "HM-9").judgement.filling.limit_kg
    assert limit_kg is not None
    assert f"It is overfull by {(20.0 - limit_kg) / 0.45359237:.1f}\u202flb." in top
    assert top.count("Overfull") == 1, "the advice alone says what to do about it"


def test_only_who_may_release_is_offered_to(
    person: Callable[[str], Visitor], services: Services, actor: Actor, judge: ScriptedJudge
) -> None:
    judge.contamination = "mixed"
    cylinders.register(services, actor, "HM-1", {**STAMPED, "claimed_designation": "R-410A"})
    technician, supervisor = person("technician"), person("supervisor")
    reading = {"temperature": "77", "pressure": "136.8", "kind": "gauge"}
    technician.send("/cylinders/HM-1/reading", **reading)
    assert "Hold or release" not in technician.get("/cylinders/HM-1").text
    assert "Put on hold" in technician.get("/cylinders/HM-1").text
    assert "Hold or release" in supervisor.get("/cylinders/HM-1").text


def test_a_cylinder_on_hold_takes_nothing(technician_at: Visitor, ready: str) -> None:
    technician_at.send(f"/cylinders/{ready}/hold", reason="smells burnt")
    refused = checked(technician_at, f"/cylinders/{ready}/transfer", **INTO)
    assert "Smells burnt" in refused.split('id="check"')[1]


def test_an_exchange_takes_one_off_the_rack_and_puts_another_on(technician_at: Visitor, ready: str) -> None:
    technician_at.send(f"/cylinders/{ready}/transfer", **INTO, step="record")
    given = {"counterparty": "the supply house", "receipt": "A-17", "mass": "37.3", "destination": "reclaim"}
    assert technician_at.send(f"/cylinders/{ready}/exchange", **given, received="NEW-1").status_code == 303
    rack = technician_at.get("/rack").text
    assert "NEW-1" in rack
    assert ">HM-1<" not in rack
    assert technician_at.get("/cylinders/HM-1").status_code == 200


def test_a_failed_inspection_without_findings_is_asked_again(technician_at: Visitor, ready: str) -> None:
    asked = technician_at.send(f"/cylinders/{ready}/care", kind="inspection", outcome="failed")
    assert "What was found: nothing was given" in asked.text


def test_the_label_prints(technician_at: Visitor, ready: str) -> None:
    for name in ("label.pdf", "label-page.pdf"):
        sent = technician_at.get(f"/cylinders/{ready}/{name}")
        assert sent.mimetype == "application/pdf"
        assert "HM-1" in PdfReader(BytesIO(sent.data)).pages[0].extract_text()
    picture = technician_at.get(f"/cylinders/{ready}/label.svg")
    assert picture.mimetype == "image/svg+xml"
    assert "HM-1" in picture.text


def test_a_weight_below_the_tare_is_refused_in_the_unit_it_was_typed_in(
    technician_at: Visitor, ready: str
) -> None:
    refused = technician_at.send(f"/cylinders/{ready}/weight", mass="5").text
    assert "Tare: 27.3\u202flb. Must be at most the gross mass, 5.0\u202flb." in refused


def test_more_out_than_was_in_is_refused_in_the_unit_it_was_typed_in(
    technician_at: Visitor, ready: str
) -> None:
    technician_at.send(f"/cylinders/{ready}/transfer", **INTO, step="record")
    out = {**INTO, "direction": "out", "mass": "30"}
    refused = technician_at.send(f"/cylinders/{ready}/transfer", **out, step="record").text
    assert "Mass: 30.0\u202flb. Must be at most what was in it, by the last weight, 10.0\u202flb." in refused


def test_the_records_of_a_period_come_as_csv_and_pdf(technician_at: Visitor, ready: str) -> None:
    technician_at.send(f"/cylinders/{ready}/transfer", **INTO, step="record")
    assert "Get the records" in technician_at.get("/records").text
    sheet = technician_at.get("/records?from=2026-05-01&to=2026-05-31&format=csv")
    assert sheet.mimetype == "text/csv"
    assert "R-410A" in sheet.text
    assert "RTU-4" in sheet.text
    printed = technician_at.get("/records?from=2026-05-01&to=2026-05-31&format=pdf")
    assert printed.data.startswith(b"%PDF")
    wrong = technician_at.get("/records?from=2026-05-31&to=yesterday&format=csv")
    assert "is not a day" in wrong.text
    assert "Not done" in technician_at.get("/records?from=2026-05-31&to=2026-05-01&format=csv").text


def test_the_records_page_says_what_an_inspector_would_miss(technician_at: Visitor, ready: str) -> None:
    technician_at.send(f"/cylinders/{ready}/transfer", **INTO, step="record")
    seen = technician_at.get("/records?from=2026-05-01&to=2026-05-31&format=look").text
    assert "1 entry" in seen and "not complete" in seen and "is missing" in seen
    assert "Not explained" in seen and "R-410A" in seen
    last_year = technician_at.get("/records?from=2025-01-01&to=2025-12-31&format=look").text
    assert "0 entries" in last_year and "Nothing in these days" in last_year
    document = technician_at.get("/records?from=2026-05-01&to=2026-05-31&format=json")
    assert document.get_json()["complete"] is False and document.get_json()["gaps"]


def test_a_leak_in_a_small_van_is_told_as_dangerous_and_in_a_hall_as_not(
    technician_at: Visitor, ready: str
) -> None:
    technician_at.send(f"/cylinders/{ready}/transfer", **INTO, step="record")
    van = technician_at.get("/places/shop/release?volume=300").text
    assert "Dangerous to breathe" in van
    assert "stop, open the doors, get out, and stay out until it has aired" in van
    assert "Within the limits" in technician_at.get("/places/shop/release?volume=1000000").text
    assert "lies outside" in technician_at.get("/places/shop/release?volume=-1").text


def test_an_administrator_sets_the_time_zone_and_nobody_else(
    person: Callable[[str], Visitor], services: Services, actor: Actor
) -> None:
    administrator, technician = person("administrator"), person("technician")
    assert "Time zone" not in technician.get("/settings").text
    assert technician.send("/settings/time-zone", time_zone="America/Denver").status_code == 403
    wrong = administrator.send("/settings/time-zone", time_zone="Denver").text
    assert "expected an IANA time zone such as America/Denver" in wrong
    assert administrator.send("/settings/time-zone", time_zone="America/Denver").status_code == 303
    assert organisation.read(services, actor).time_zone == "America/Denver"
    assert 'value="America/Denver"' in administrator.get("/settings").text


def test_a_place_keeps_its_law_until_another_is_chosen(
    person: Callable[[str], Visitor], services: Services, actor: Actor
) -> None:
    supervisor = person("supervisor")
    assert supervisor.send("/places", name="dock", kind="shop", rule_book="eu").status_code == 303
    assert (
        supervisor.send("/places", name="dock", kind="shop", rule_book="", elevation="20").status_code == 303
    )
    assert "law of Europe (ADR)" in supervisor.get("/places").text
    assert supervisor.send("/places", name="dock", kind="shop", rule_book="organisation").status_code == 303
    assert "law of Europe" not in supervisor.get("/places").text
    assert "is not one of them" in supervisor.send("/places", name="dock", kind="shop", rule_book="fr").text


def test_the_page_says_where_to_stop_by_gross_weight_and_offers_the_fill(
    technician_at: Visitor, ready: str, services: Services, actor: Actor
) -> None:
    technician_at.send(f"/cylinders/{ready}/transfer", **INTO, step="record")
    judgement = overview.one(services, actor, ready).judgement
    page = technician_at.get(f"/cylinders/{ready}").text
    assert judgement.stop_gross_kg is not None
    assert judgement.stop_gross_kg == pytest.approx(12.4 + (judgement.filling.limit_kg or 0.0))
    assert f"{int(judgement.stop_gross_kg / 0.45359237)}." in page.split('class="stop-at"')[1][:60]


def test_one_on_hold_says_do_not_fill_and_names_no_weight(technician_at: Visitor, ready: str) -> None:
    technician_at.send(f"/cylinders/{ready}/hold", reason="smells burnt")
    page = technician_at.get(f"/cylinders/{ready}").text
    assert "Do not fill" in page
    assert 'class="stop-at"' not in page
    assert "See the hold" in page.split('class="task"')[1][:300]
