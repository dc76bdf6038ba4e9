"""Entries of a phone that had no coverage: taken at their own time, once, or refused with a reason."""

import html
import json
import re
from datetime import datetime, timedelta
from typing import Any

import pytest
from werkzeug.test import TestResponse

from service.cylinders.judgement.state import Incoming
from service.operations import care, cylinders, overview, pairs, transfers
from service.operations.support.context import Actor, Services
from service.store import cylinders as stored
from service.store import events as stored_events
from service.store.paging import PageRequest
from tests.board.conftest import Visitor
from tests.support.clock import Clock

STAMPED = {"marks": "DOT-4BA400", "water_capacity_kg": 21.6, "tare_kg": 12.4, "place": "shop"}


@pytest.fixture(autouse=True)
def _registered(services: Services, actor: Actor) -> None:
    cylinders.register(
        services, actor, "HM-1", {**STAMPED, "requalification_stamp": "6 A123 24", "gross_mass_kg": 12.4}
    )


def entry(visitor: Visitor, at: datetime, **of: str) -> TestResponse:
    plain = {"key": "k1", "serial": "HM-1", "entered": "weight", "units": "si", "mass": "18.5"}
    return visitor.send("/entries", at=at.isoformat(), **{**plain, **of})


def weights(services: Services, actor: Actor) -> int:
    with services.database.reading(actor.organisation_id) as work:
        found = stored_events.since(work, 0)
        return sum(1 for one in found if one.data.get("change") == "corrected")


def test_a_weight_is_taken_at_its_own_time(
    technician_at: Visitor, services: Services, actor: Actor, clock: Clock
) -> None:
    entered = clock.forward(seconds=60)
    clock.forward(seconds=7200)
    assert entry(technician_at, entered).status_code == 200
    known = cylinders.read(services, actor, "HM-1")
    assert (known.gross_mass_kg, known.gross_mass_at) == (18.5, entered)


def test_a_second_try_records_nothing_twice(
    technician_at: Visitor, services: Services, actor: Actor, clock: Clock
) -> None:
    entered = clock.forward(seconds=60)
    for _ in range(3):
        assert entry(technician_at, entered).status_code == 200
    assert weights(services, actor) == 1


def test_it_is_read_in_the_units_that_it_was_typed_in(
    technician_at: Visitor, services: Services, actor: Actor, clock: Clock
) -> None:
    assert entry(technician_at, clock.forward(seconds=60), units="inch-pound", mass="40").status_code == 200
    assert cylinders.read(services, actor, "HM-1").gross_mass_kg == pytest.approx(18.1437, abs=1e-4)


def test_an_older_weight_does_not_take_the_place_of_a_newer_one(
    technician_at: Visitor, services: Services, actor: Actor, clock: Clock
) -> None:
    entered = clock.forward(seconds=60)
    clock.forward(seconds=60)
    cylinders.correct(services, actor, "HM-1", {"gross_mass_kg": 20.0}, lambda _: True)
    refused = entry(technician_at, entered)
    assert refused.status_code == 409
    assert "weighed again since" in refused.get_json()["reasons"][0]
    assert cylinders.read(services, actor, "HM-1").gross_mass_kg == 20.0


def test_a_weight_from_before_a_transfer_is_refused(
    technician_at: Visitor, services: Services, actor: Actor, clock: Clock
) -> None:
    entered = clock.forward(seconds=60)
    clock.forward(seconds=60)
    with services.database.writing(actor.organisation_id) as work:
        row = stored.by_serial(work, "HM-1", lock=True)
        assert row is not None
        stored.open_epoch(work, row, at=services.now(), cause="transfer", contents=None)
    refused = entry(technician_at, entered)
    assert refused.status_code == 409
    assert "Weigh it again" in refused.get_json()["reasons"][0]


def test_a_refusal_takes_no_key(technician_at: Visitor, clock: Clock) -> None:
    entered = clock.forward(seconds=60)
    assert entry(technician_at, entered, mass="abc").status_code == 409
    assert entry(technician_at, entered, mass="11").status_code == 409
    assert entry(technician_at, entered).status_code == 200


def test_a_reading_speaks_for_the_moment_at_which_it_was_read(
    technician_at: Visitor, services: Services, actor: Actor, clock: Clock
) -> None:
    entered = clock.forward(seconds=60)
    clock.forward(seconds=3600)
    reading = {"entered": "reading", "temperature": "20", "pressure": "800", "kind": "gauge", "mass": ""}
    for _ in range(2):
        assert entry(technician_at, entered, **reading).status_code == 200
    found = pairs.listed(services, actor, "HM-1", PageRequest(), epoch=None, provisional=None).items
    assert [one.settled_at for one in found] == [entered]


@pytest.mark.parametrize(
    ("fields", "reason"),
    [
        ({"serial": "NONE"}, "NONE"),
        ({"entered": "exchange"}, "Kind"),
        ({"mass": ""}, "Weight: nothing was given"),
        ({"at": "yesterday"}, "Time: expected a date and time"),
        ({"at": "2026-05-04T12:00:00"}, "Time: its zone is missing"),
        ({"at": "2027-01-01T00:00:00+00:00"}, "must not be in the future"),
    ],
)
def test_what_cannot_be_taken_comes_back_with_the_reason(
    technician_at: Visitor, clock: Clock, fields: dict[str, str], reason: str
) -> None:
    at = (
        datetime.fromisoformat(fields["at"])
        if fields.get("at", "")[:3] == "202"
        else clock.forward(seconds=9)
    )
    refused = entry(technician_at, at, **{name: text for name, text in fields.items() if name != "at"})
    if fields.get("at") == "yesterday":
        plain = {"key": "k1", "serial": "HM-1", "entered": "weight", "units": "si", "mass": "18.5"}
        refused = technician_at.send("/entries", at="yesterday", **{**plain, "mass": "18.6", "key": "k2"})
    assert refused.status_code == 409
    assert any(reason in text for text in refused.get_json()["reasons"]), refused.get_json()


def test_past_the_time_that_keys_are_kept_nobody_can_tell_whether_it_was_taken(
    technician_at: Visitor, services: Services, actor: Actor, clock: Clock
) -> None:
    entered = clock.forward(seconds=60)
    assert entry(technician_at, entered).status_code == 200
    clock.forward(seconds=timedelta(days=31).total_seconds())
    technician_at.sign_in("technician")
    refused = entry(technician_at, entered, key="k1")
    assert refused.status_code == 409
    assert "Entered 31 days ago" in refused.get_json()["reasons"][0]
    assert weights(services, actor) == 1


def test_nobody_enters_without_the_sessions_token(technician_at: Visitor, visitor: Visitor) -> None:
    assert technician_at.client.post("/entries", data={"key": "k"}).status_code == 400
    assert visitor.get("/entries/token").status_code == 302
    told = technician_at.get("/entries/token").get_json()
    assert told["csrf"] == technician_at.token()
    assert told["person"] > 0


def test_the_files_of_the_phone_name_what_is_served_now(technician_at: Visitor) -> None:
    worker = technician_at.get("/sw.js")
    assert worker.mimetype == "text/javascript"
    assert "no-cache" in worker.headers["Cache-Control"]
    assert "/static/board.js?v=" in worker.text
    told = technician_at.get("/manifest.webmanifest").get_json(force=True)
    assert told["start_url"] == "/"
    with technician_at.get(told["icons"][0]["src"]) as icon:
        assert icon.status_code == 200


FILL = {"entered": "transfer", "direction": "in", "designation": "R-410A", "mass": "5", "phase": "liquid"}


def evacuated(technician_at: Visitor) -> None:
    """Empty and weighed so, as a fill wants it."""
    for kind, told in (("evacuation", {"microns": "400"}), ("inspection", {"outcome": "passed"})):
        assert technician_at.send("/cylinders/HM-1/care", kind=kind, **told).status_code == 303


def held(services: Services, actor: Actor) -> list[str]:
    return [one.reason for one in overview.one(services, actor, "HM-1").known.holds]


def test_a_fill_is_taken_once_at_its_own_time_and_says_what_it_was_judged_by(
    technician_at: Visitor, services: Services, actor: Actor, clock: Clock
) -> None:
    evacuated(technician_at)
    entered = clock.forward(seconds=60)
    clock.forward(seconds=7200)
    for _ in range(3):
        sent = entry(technician_at, entered, **FILL, waited="yes", known_at="2026-05-01T09:00:00+00:00")
        assert sent.status_code == 200, sent.get_json()
    (found,) = transfers.listed(services, actor, PageRequest(), serial="HM-1").items
    assert (found.mass_kg, found.occurred_at) == (5.0, entered)
    assert "judged by what was known at 2026-05-01" in (found.note or "")
    assert held(services, actor) == []


def test_a_refused_fill_sets_the_cylinder_aside_once_until_it_is_cleared_up(
    technician_at: Visitor, services: Services, actor: Actor, clock: Clock
) -> None:
    evacuated(technician_at)
    assert entry(technician_at, clock.forward(seconds=60), **FILL, key="k1").status_code == 200
    other = {**FILL, "designation": "R-22", "waited": "yes", "key": "k2"}
    entered = clock.forward(seconds=60)
    for _ in range(3):
        refused = entry(technician_at, entered, **other)
        assert refused.status_code == 409
        assert refused.get_json()["set_aside"] is True
        assert "R-410A" in " ".join(refused.get_json()["reasons"])
    (reason,) = held(services, actor)
    assert reason == "5 kg of R-22 was entered without coverage and refused: it may be in the cylinder"
    done = entry(technician_at, entered, **{**other, "key": "k3"}, has_happened="yes")
    assert done.status_code == 200, done.get_json()
    judged = overview.one(services, actor, "HM-1").judgement
    assert set(judged.state.contents.shares) == {"R-410A", "R-22"}
    assert held(services, actor) == [reason], "a supervisor lifts it"


def test_a_fill_that_is_refused_at_once_holds_nothing(
    technician_at: Visitor, services: Services, actor: Actor, clock: Clock
) -> None:
    refused = entry(technician_at, clock.forward(seconds=60), **{**FILL, "mass": "60"})
    assert refused.status_code == 409
    assert refused.get_json()["set_aside"] is False
    assert held(services, actor) == []


@pytest.mark.parametrize("direction", ["in", "out"])
def test_a_transfer_from_before_another_is_refused_and_as_done_comes_after_it(
    technician_at: Visitor, services: Services, actor: Actor, clock: Clock, direction: str
) -> None:
    evacuated(technician_at)
    entered = clock.forward(seconds=60)
    clock.forward(seconds=60)
    assert entry(technician_at, clock.at, **FILL, key="k1").status_code == 200
    late = {**FILL, "direction": direction, "mass": "1", "waited": "yes"}
    refused = entry(technician_at, entered, **late, key="k2")
    assert refused.status_code == 409
    assert "changed after this was entered" in refused.get_json()["reasons"][0]
    assert entry(technician_at, entered, **late, key="k3", has_happened="yes").status_code == 200
    contents = overview.one(services, actor, "HM-1").judgement.state.contents
    assert contents.mass_kg == pytest.approx(6.0 if direction == "in" else 4.0)


def test_a_transfer_from_before_a_weighing_is_refused(
    technician_at: Visitor, services: Services, actor: Actor, clock: Clock
) -> None:
    evacuated(technician_at)
    entered = clock.forward(seconds=60)
    clock.forward(seconds=60)
    cylinders.correct(services, actor, "HM-1", {"gross_mass_kg": 13.0}, lambda _: True)
    refused = entry(technician_at, entered, **FILL)
    assert "weighed again since" in refused.get_json()["reasons"][0]


def test_an_inspection_keeps_its_own_time_and_a_failed_one_holds(
    technician_at: Visitor, services: Services, actor: Actor, clock: Clock
) -> None:
    entered = clock.forward(seconds=60)
    clock.forward(seconds=3600)
    seen = {"entered": "care", "kind": "inspection", "outcome": "failed", "findings": "dented", "mass": ""}
    for _ in range(2):
        assert entry(technician_at, entered, **seen).status_code == 200
    found = care.listed(services, actor, PageRequest(), serial="HM-1", kind=None).items
    assert [(one.kind, one.occurred_at) for one in found] == [("inspection", entered)]
    assert len(held(services, actor)) == 1


def test_a_hold_is_placed_once(
    technician_at: Visitor, services: Services, actor: Actor, clock: Clock
) -> None:
    entered = clock.forward(seconds=60)
    for _ in range(2):
        assert entry(technician_at, entered, entered="hold", reason="smells burnt").status_code == 200
    assert held(services, actor) == ["smells burnt"]


def test_a_cylinder_of_a_van_is_registered_as_it_was_found(
    technician_at: Visitor, services: Services, actor: Actor, clock: Clock
) -> None:
    entered = clock.forward(seconds=60)
    clock.forward(seconds=60)
    found = {"entered": "registration", "serial": "VAN-1", "mass": "20", "tare": "12", "place": "shop"}
    for _ in range(2):
        assert entry(technician_at, entered, **found).status_code == 200
    known = cylinders.read(services, actor, "VAN-1")
    assert (known.gross_mass_kg, known.gross_mass_at) == (20.0, entered)
    refused = entry(technician_at, entered, **found, key="of another phone")
    assert "VAN-1 is registered already" in refused.get_json()["reasons"][0]
    weighed = clock.forward(seconds=-30)
    assert entry(technician_at, weighed, serial="VAN-1", mass="20.4", key="k9").status_code == 200, (
        "weighed again after it was found"
    )


def test_a_phone_is_told_what_may_go_in_and_what_forbids_it(
    technician_at: Visitor, services: Services, actor: Actor
) -> None:
    def told() -> dict[str, Any]:
        page = technician_at.get("/cylinders/HM-1/transfer").text
        found = re.search(r'data-known="([^"]*)"', page)
        assert found is not None
        known: dict[str, Any] = json.loads(html.unescape(found[1]))
        return known

    evacuated(technician_at)
    known = told()
    judgement = overview.one(services, actor, "HM-1").judgement
    assert known["fill_until"] == judgement.requalification.due_on.isoformat()  # type: ignore[union-attr]
    for name in ("R-410A", "R-134a"):
        limit_kg = judgement.may_take(Incoming(name, 0.0)).remaining_kg
        assert limit_kg is not None
        assert 0.0 <= limit_kg / 0.45359237 - known["room"][name] < 0.01
    assert "R-744" not in known["room"], "its pressure is beyond the mark"
    assert known["against"]["in"] == []
    assert known["against"]["out-liquid"]
    technician_at.send("/cylinders/HM-1/hold", reason="smells burnt")
    known = told()
    assert known["room"] == {}
    assert "smells burnt" in known["against"]["in"][0]
