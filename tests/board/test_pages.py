import gzip
import itertools
import re
from datetime import timedelta
from pathlib import Path

import pytest
from flask.testing import FlaskClient

from service.operations import cylinders, hookups, live, overview, pairs
from service.operations.hookups import NewHookup
from service.operations.live import Snapshot
from service.operations.pairs import NewPair
from service.operations.support import judgements
from service.operations.support.atmosphere import PressureReading
from service.operations.support.context import Actor, Services
from service.store.paging import PageRequest
from tests.board.conftest import Visitor
from tests.support.clock import Clock
from tests.support.judge import ScriptedJudge
from tests.support.live_batches import SENT, heard, together, unread
from tests.support.queries import recorded, transactions

STAMPED = {"place": "shop", "marks": "DOT-4BA400", "water_capacity_kg": 21.6, "tare_kg": 12.4}
READING = PressureReading(absolute_pa=1_044_000.0)
DYING = {**SENT, "ambient-temperature": ("Cel", 20.0), "battery": ("%EL", 9.0)}


def register(services: Services, actor: Actor, serial: str = "HM-1", **more: object) -> str:
    cylinders.register(services, actor, serial, {**STAMPED, **more})
    return serial


def hook_up(services: Services, actor: Actor, serial: str) -> int:
    return hookups.attach(services, actor, NewHookup(serial, f"{serial}-p", f"{serial}-t")).id


def say(services: Services, actor: Actor, hookup: int, state: str) -> None:
    gauge = {"gauge_pressure_kpa": 943.0}
    said = Snapshot(
        hookup, services.now(), state, 297.95, PressureReading(gauge_pa=943_000.0), None, None, gauge
    )
    live.put(services, actor, [said], [])


def test_a_cylinder_is_registered_by_its_serial_alone(technician_at: Visitor) -> None:
    assert technician_at.send("/register", serial=" HM-7 ").status_code == 303
    page = technician_at.get("/cylinders/HM-7")
    assert page.status_code == 200
    assert "Nobody knows what is in it" in page.text


def test_a_serial_that_is_taken_is_refused_and_what_was_typed_stays(technician_at: Visitor) -> None:
    technician_at.send("/register", serial="HM-7")
    again = technician_at.send("/register", serial="HM-7", owner="north yard")
    assert "registered already" in again.text
    assert 'value="north yard"' in again.text


def test_marks_are_typed_in_the_persons_units(
    technician_at: Visitor, services: Services, actor: Actor
) -> None:
    technician_at.send("/register", serial="HM-7", tare="27.3", water_capacity="47.6")
    known = cylinders.read(services, actor, "HM-7")
    assert known.tare_kg == pytest.approx(27.3 * 0.45359237)
    assert 'value="27.3"' in technician_at.get("/cylinders/HM-7/marks").text


def test_a_typed_gauge_reading_becomes_an_absolute_pair(
    technician_at: Visitor, services: Services, actor: Actor, judge: ScriptedJudge
) -> None:
    register(services, actor)
    sent = technician_at.send(
        "/cylinders/HM-1/reading", temperature="77", pressure="136.8", kind="gauge", barometer="14.4"
    )
    assert sent.status_code == 303
    ((pair,), _) = judge.asked[-1]
    assert pair.temp_k == pytest.approx(298.15)
    assert pair.pressure_pa == pytest.approx((136.8 + 14.4) * 6894.757, rel=1e-6)


def test_a_reading_without_a_number_is_named_and_nothing_is_kept(
    technician_at: Visitor, judge: ScriptedJudge, services: Services, actor: Actor
) -> None:
    register(services, actor)
    sent = technician_at.send("/cylinders/HM-1/reading", temperature="warm", pressure="", kind="gauge")
    assert "&#39;warm&#39; is not a number" in sent.text
    assert "Pressure: nothing was given" in sent.text
    assert judge.asked == []


def test_the_page_says_verdict_limits_and_what_is_next(
    technician_at: Visitor, services: Services, actor: Actor
) -> None:
    register(services, actor, gross_mass_kg=22.4)
    pairs.record(services, actor, NewPair(297.95, READING, serial="HM-1"))
    text = technician_at.get("/cylinders/HM-1").text
    for words in (
        "and nothing else was detected",
        "R-410A</span> by mass",
        "Warm it to 35 °C",
        "DOT-4BA400",
    ):
        assert words in text


@pytest.mark.parametrize("contamination", ["air", "shifted", "mixed", "undecided"])
def test_contamination_is_in_the_first_sentence(
    technician_at: Visitor, services: Services, actor: Actor, judge: ScriptedJudge, contamination: str
) -> None:
    judge.contamination = contamination
    register(services, actor)
    pairs.record(services, actor, NewPair(297.95, READING, serial="HM-1"))
    text = technician_at.get("/cylinders/HM-1").text
    sentence = text.split('<p class="verdict">')[1].split("</p>")[0]
    assert "nothing else" not in sentence
    if contamination == "mixed":
        assert "Needs attention" in technician_at.get("/rack").text


def test_live_values_show_with_their_state(
    technician_at: Visitor, services: Services, actor: Actor, clock: Clock
) -> None:
    register(services, actor)
    hookup = hook_up(services, actor, "HM-1")
    for state in ("waiting", "settling", "settled", "settled"):
        say(services, actor, hookup, state)
        clock.at += timedelta(seconds=30)
    overview, page = technician_at.get("/rack").text, technician_at.get("/cylinders/HM-1").text
    assert "136.8\u202fpsi gauge" in overview
    assert "#g-settled" in overview
    assert 'class="state settled"' in page


def test_the_rack_takes_as_many_statements_for_forty_cylinders_as_for_two(
    technician_at: Visitor, services: Services, actor: Actor
) -> None:
    counts = []
    for number in (2, 40):
        for k in range(number):
            serial = register(services, actor, f"HM-{number}-{k}", claimed_designation="R-22")
            say(services, actor, hook_up(services, actor, serial), "settled")
        engine = services.database.engine
        with recorded(engine) as statements, transactions(engine) as begun:
            assert technician_at.get("/rack").status_code == 200
        counts.append((len(statements), len(begun)))
    assert counts[0] == counts[1]
    assert counts[0] <= (16, 2)


def test_a_cylinders_page_takes_two_transactions_and_judges_once(
    technician_at: Visitor, services: Services, actor: Actor, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One for the session, one for everything shown: the page is of one moment, by one judgement."""
    serial = register(services, actor, "HM-1", claimed_designation="R-22")
    say(services, actor, hook_up(services, actor, serial), "settled")
    reading = PressureReading(absolute_pa=1.044e6)
    pairs.record(services, actor, NewPair(297.9, reading, serial=serial))
    technician_at.get("/cylinders/HM-1")  # draws the curves, which are kept
    judged: list[int] = []
    genuine = judgements.judge
    monkeypatch.setattr(
        judgements, "judge", lambda *args, **more: (judged.append(1), genuine(*args, **more))[1]
    )
    engine = services.database.engine
    with recorded(engine) as statements, transactions(engine) as begun:
        assert technician_at.get("/cylinders/HM-1").status_code == 200
    assert (len(begun), len(judged)) == (2, 1)
    assert len(statements) <= 23


def test_a_page_shows_one_moment(any_services: Services, any_actor: Actor) -> None:
    """What somebody writes while a page is put together is on all of it or on none."""

    def seen() -> list[str]:
        return list(overview.serials(any_services, any_actor))

    with any_services.database.view(any_actor.organisation_id):
        before = seen()
        register(any_services, any_actor, "HM-2")
        assert seen() == before
    assert seen() == [*before, "HM-2"]


def test_only_the_cards_asked_for_are_drawn(technician_at: Visitor, services: Services, actor: Actor) -> None:
    for k in range(3):
        register(services, actor, f"HM-{k}")
    text = technician_at.get("/rack?only=HM-1").text
    assert text.count("data-card") == 1
    assert "HM-1" in text


def test_a_serial_with_odd_characters_keeps_its_page(
    technician_at: Visitor, services: Services, actor: Actor
) -> None:
    odd = 'A&B "7" <x>'
    register(services, actor, odd)
    text = technician_at.get("/rack").text
    assert "<x>" not in text
    assert "/cylinders/A%26B%20%227%22%20%3Cx%3E" in text
    assert technician_at.get("/cylinders/A%26B%20%227%22%20%3Cx%3E").status_code == 200


def test_pages_are_pressed_for_who_can_read_that(
    technician_at: Visitor, services: Services, actor: Actor
) -> None:
    for k in range(5):
        register(services, actor, f"HM-{k}")
    pressed = technician_at.get("/rack", **{"Accept-Encoding": "gzip"})
    assert pressed.headers["Content-Encoding"] == "gzip"
    assert "HM-4" in gzip.decompress(pressed.data).decode()
    assert "Content-Encoding" not in technician_at.get("/rack").headers


def test_devices_are_hooked_up_and_taken_off(
    technician_at: Visitor, services: Services, actor: Actor, worker: FlaskClient
) -> None:
    register(services, actor)
    worker.put("/api/v1/live", json=heard("urn:dev:mac:1", at=services.now(), values=DYING))
    page = technician_at.get("/devices").text
    assert "gauge 136.8\u202fpsi, wall 75.2\u202f°F, air 68.0\u202f°F, battery 9\u202f%" in page
    assert "battery low" in page
    form = technician_at.get("/hook-up?serial=HM-1").text
    assert "136.8\u202fpsi · shop · mac:1" in form
    assert "75.2\u202f°F · shop · mac:1" in form
    devices = {"pressure_device": "urn:dev:mac:1", "temperature_device": "urn:dev:mac:1"}
    assert technician_at.send("/hook-up", cylinder="HM-1", valve="vapour", **devices).status_code == 303
    register(services, actor, "HM-2")
    taken = technician_at.send("/hook-up", cylinder="HM-2", valve="vapour", **devices)
    assert "on cylinder HM-1" in taken.text
    technician_at.send("/cylinders/HM-1/unhook")
    assert technician_at.send("/hook-up", cylinder="HM-2", valve="vapour", **devices).status_code == 303


def test_a_gauge_that_speaks_another_unit_is_shown_with_what_it_says(
    technician_at: Visitor, services: Services, worker: FlaskClient, tmp_path: Path
) -> None:
    assert "Heard, not understood" not in technician_at.get("/devices").text
    psi, more = b'[{"n":"gauge-pressure","u":"psi","v":118}]', b'[{"n":"rssi","u":"dB","v":-70}]'
    worker.put("/api/v1/live", json=unread(tmp_path, "urn:dev:mac:7", services.now(), psi))
    worker.put("/api/v1/live", json=heard("urn:dev:mac:8", at=services.now()))
    page = technician_at.get("/devices").text
    assert "Heard, not understood" in page and "a unit that is not read here" in page
    assert "&#39;psi&#39;, expected Pa or hPa" in page and "118}]" in page
    with_rssi = psi.replace(b'"psi"', b'"Pa"')[:-1] + b"," + more[1:]
    worker.put("/api/v1/live", json=unread(tmp_path, "urn:dev:mac:9", services.now(), with_rssi))
    assert "rssi" not in technician_at.get("/devices").text, (
        "signal strength is nobody's concern at a cylinder"
    )


def test_an_alarm_is_seen_acknowledged_and_leaves_the_first_bay(
    technician_at: Visitor, services: Services, actor: Actor, judge: ScriptedJudge
) -> None:
    judge.contamination = "mixed"
    register(services, actor)
    pairs.record(services, actor, NewPair(297.95, READING, serial="HM-1"))
    page = technician_at.get("/alarms").text
    assert "1 needs somebody, 1 cause" in page
    assert "seen by nobody" in page
    assert 'id="alarm-count">1<' in technician_at.get("/rack").text
    assert technician_at.send("/alarms/1/acknowledgement").status_code == 303
    assert "seen by all 1" in technician_at.get("/alarms").text
    code = re.search(r'id="cause-([a-z-]+)"', page)
    assert code is not None
    assert "acknowledged by technician" in technician_at.get(f"/alarms?cause={code[1]}").text
    overview = technician_at.get("/rack").text
    assert "Needs a person" not in overview.split("<form")[2]
    assert "seen by technician" in overview


@pytest.mark.parametrize("path", ["/nowhere", "/cylinders/HM-1/nowhere", "/help/nowhere"])
def test_a_browser_is_never_shown_json(technician_at: Visitor, path: str) -> None:
    answer = technician_at.client.get(path, headers={"Accept": "text/html,application/xhtml+xml,*/*;q=0.8"})
    assert (answer.status_code, answer.mimetype) == (404, "text/html")
    assert "Not here" in answer.text and "default-src 'none'" in answer.headers["Content-Security-Policy"]


@pytest.mark.parametrize("accept", ["application/json", "*/*", ""])
def test_a_program_is_told_in_json(technician_at: Visitor, accept: str) -> None:
    for path in ("/nowhere", "/api/v1/nowhere"):
        answer = technician_at.client.get(path, headers={"Accept": accept})
        assert (answer.status_code, answer.mimetype) == (404, "application/problem+json")
    html = technician_at.client.get("/api/v1/nowhere", headers={"Accept": "text/html"})
    assert html.mimetype == "application/problem+json"


def test_a_page_that_fails_says_so_and_shows_nothing_of_the_fault(
    technician_at: Visitor, monkeypatch: pytest.MonkeyPatch
) -> None:
    def failing(*_args: object, **_how: object) -> None:
        raise ZeroDivisionError("a secret")

    monkeypatch.setattr("service.operations.alarms.listed", failing)
    answer = technician_at.get("/alarms")
    assert (answer.status_code, answer.mimetype) == (500, "text/html")
    assert "This page failed" in answer.text and "secret" not in answer.text


def test_another_owners_cylinder_does_not_exist(
    technician_at: Visitor, services: Services, actor: Actor
) -> None:
    from tests.conftest import make_owner

    register(services, make_owner(services, "other"), "THEIRS")
    assert technician_at.get("/cylinders/THEIRS").status_code == 404
    assert "THEIRS" not in technician_at.get("/rack").text


def test_what_happens_while_a_page_is_drawn_is_told_by_its_stream(
    technician_at: Visitor, services: Services, actor: Actor, clock: Clock
) -> None:
    register(services, actor)
    hookup = hook_up(services, actor, "HM-1")
    page = technician_at.get("/rack").text
    drawn = re.search(r'data-stream="([^"]+)" data-since="(\d+)" data-drawn="([^"]+)"', page)
    assert drawn is not None
    clock.forward(seconds=1)
    say(services, actor, hookup, "settled")
    clock.forward(seconds=1)
    path, since, moment = drawn.groups()
    answer = technician_at.client.get(path, query_string={"since": since, "drawn": moment})
    told = itertools.islice(answer.response, 3)
    assert any(b"cylinders/HM-1" in (line if isinstance(line, bytes) else line.encode()) for line in told)
    answer.close()


def test_a_correction_does_not_undo_what_somebody_else_corrected_meanwhile(
    technician_at: Visitor, services: Services, actor: Actor
) -> None:
    register(services, actor)
    form = technician_at.get("/cylinders/HM-1/marks").text
    version = re.search(r'name="version" value="(\d+)"', form)
    assert version is not None
    first = technician_at.send("/cylinders/HM-1/marks", version=version[1], owner="north yard")
    assert first.status_code == 303
    second = technician_at.send("/cylinders/HM-1/marks", version=version[1], owner="south yard")
    assert "was changed since it was read" in second.text
    assert cylinders.read(services, actor, "HM-1").owner == "north yard"


def test_a_device_is_called_by_its_name_and_a_retired_one_is_not_offered(
    technician_at: Visitor, services: Services, clock: Clock, worker: FlaskClient
) -> None:
    worker.put("/api/v1/live", json=heard("g-1", "g-2", at=services.now()))
    assert technician_at.send("/devices/g-1", called=" red gauge ").status_code == 303
    offered = technician_at.get("/hook-up").text
    assert "red gauge · " in offered and "g-2" in offered
    technician_at.send("/devices/g-2", retired="yes")
    assert "g-2" not in technician_at.get("/hook-up").text
    page = technician_at.get("/devices").text
    assert "Retired" in page and "still heard" not in page and "/instruments/g-2" in page
    clock.at += timedelta(hours=1)
    worker.put("/api/v1/live", json=heard("g-2", at=services.now()))
    assert "still heard" in technician_at.get("/devices").text
    technician_at.send("/devices/g-2", retired="no")
    assert "g-2" in technician_at.get("/hook-up").text
    assert (
        "81 characters"
        in technician_at.client.post(
            "/devices/g-1", data={"csrf": technician_at.token(), "called": "x" * 81}, follow_redirects=True
        ).text
    )


def test_a_gauge_and_a_clamp_are_not_offered_together_unless_they_belong(
    technician_at: Visitor, services: Services, actor: Actor, worker: FlaskClient
) -> None:
    register(services, actor)
    said = together(
        heard("g-1", at=services.now(), values={"gauge-pressure": ("Pa", 943_000.0)}),
        heard("c-1", at=services.now(), values={"wall-temperature": ("Cel", 24.0)}),
        heard("c-2", at=services.now(), values={"wall-temperature": ("Cel", 24.1)}),
    )
    worker.put("/api/v1/live", json=said)
    page = technician_at.get("/hook-up?serial=HM-1&device=g-1").text
    clamps = page[page.index('name="temperature_device"') :]
    assert "selected" not in clamps[: clamps.index("</select>")] and '<option value="">choose' in clamps
    assert 'name="set"' not in page
    first = {"pressure_device": "g-1", "temperature_device": "c-2"}
    assert technician_at.send("/hook-up", cylinder="HM-1", valve="vapour", **first).status_code == 303
    technician_at.send("/cylinders/HM-1/unhook")
    page = technician_at.get("/hook-up?serial=HM-1").text
    number = re.search(r'<option value="(\d+)" selected>136.8.* with .*c-2 · last on HM-1', page)
    assert number is not None
    none = {"pressure_device": "", "temperature_device": ""}
    assert (
        technician_at.send("/hook-up", cylinder="HM-1", valve="vapour", set=number[1], **none).status_code
        == 303
    )
    (hookup,) = hookups.listed(services, actor, PageRequest(), active=True, serial="HM-1").items
    assert (hookup.pressure_device, hookup.temperature_device) == ("g-1", "c-2")
    assert (
        "nothing was given"
        in technician_at.send("/hook-up", cylinder="HM-1", valve="vapour", set="", **none).text
    )
