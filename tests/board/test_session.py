import json
import re
from collections.abc import Callable

import pytest
from flask import Flask

from service.operations import people
from service.operations.support.context import Actor, Services
from service.store import places
from tests.board.conftest import PASSWORD, Visitor

PROTECTED = [
    "/rack",
    "/alarms",
    "/devices",
    "/register",
    "/settings",
    "/hook-up",
    "/cylinders/HM-1",
    "/stream",
]


@pytest.mark.parametrize("path", PROTECTED)
def test_whoever_is_not_signed_in_sees_nothing(visitor: Visitor, path: str) -> None:
    answer = visitor.get(path)
    assert answer.status_code == 302
    assert "/sign-in" in answer.headers["Location"]


def test_a_stream_of_an_ended_session_leaves_an_open_sign_in_page_alone(visitor: Visitor) -> None:
    token = visitor.token()
    answer = visitor.client.get("/stream", headers={"Accept": "text/event-stream"})
    assert answer.status_code == 401
    assert "Set-Cookie" not in answer.headers
    assert visitor.token() == token


def test_of_two_tabs_opened_together_either_signs_in(
    app: Flask, visitor: Visitor, person: Callable[[str], Visitor]
) -> None:
    """Both asked without a cookie; the token of the one answered first is not the one that is kept."""
    person("technician")
    first = app.test_client().get("/sign-in").text
    found = re.search(r'name="csrf" value="([^"]+)"', first)
    assert found is not None
    visitor.token()
    form = {"csrf": found[1], "login": "technician", "password": PASSWORD}
    for site, status in (("cross-site", 400), ("none", 400), ("same-origin", 303)):
        answer = visitor.client.post("/sign-in", data=form, headers={"Sec-Fetch-Site": site})
        assert answer.status_code == status


HANDBOOK = ("help_page", "help_api", "help_picture", "problem_types", "problem_type")
"""Open to everybody: cautions are for whoever stands at a cylinder, types of problems for whoever was refused."""
SHELL = ("service_worker", "manifest")
"""The same for everybody, without data: a browser fetches them without regard to who is signed in."""


def test_every_page_is_protected_unless_it_is_for_signing_in(app: Flask, visitor: Visitor) -> None:
    open_ = {
        f"board.{name}"
        for name in (
            "sign_in",
            "sign_out",
            "static",
            "home",
            "sign_in_with",
            "signed_in_with",
            *HANDBOOK,
            *SHELL,
        )
    }
    for rule in app.url_map.iter_rules():
        if not rule.endpoint.startswith("board.") or rule.endpoint in open_:
            continue
        path = re.sub(r"<int:\w+>", "1", rule.rule).replace("<serial>", "x").replace("<place>", "x")
        answer = visitor.get(path) if "GET" in (rule.methods or ()) else visitor.send(path)
        assert answer.status_code in (302, 303, 401), rule.rule


def test_a_form_without_the_sessions_token_is_refused(technician_at: Visitor) -> None:
    forged = technician_at.client.post("/register", data={"serial": "HM-1", "csrf": "guessed"})
    assert forged.status_code == 400
    assert technician_at.get("/cylinders/HM-1").status_code == 404


def test_a_disabled_person_is_out_at_once(technician_at: Visitor, services: Services, actor: Actor) -> None:
    (found,) = people.listed(services, actor)
    people.set_password(services, actor, found.id, "another-long-password")
    assert technician_at.get("/rack").status_code == 302


def test_guessing_is_slowed_for_the_guesser_alone(
    app: Flask, visitor: Visitor, technician_at: Visitor
) -> None:
    answers = [visitor.sign_in("technician", "wrong").status_code for _ in range(11)]
    assert answers == [403] * 10 + [429]
    locked = visitor.sign_in("technician")
    assert locked.status_code == 429
    assert "Wait five minutes" in locked.text
    assert technician_at.get("/rack").status_code == 200
    elsewhere = Visitor(app.test_client())
    elsewhere.client.environ_base["REMOTE_ADDR"] = "192.0.2.7"
    assert elsewhere.sign_in("technician").status_code == 303


def test_signing_out_ends_the_session_for_every_copy_of_its_cookie(
    app: Flask, technician_at: Visitor
) -> None:
    copy = app.test_client()
    cookie = technician_at.client.get_cookie("heelmark")
    assert cookie is not None
    copy.set_cookie("heelmark", cookie.value)
    assert copy.get("/rack").status_code == 200
    assert technician_at.send("/sign-out").status_code == 303
    assert copy.get("/rack").status_code == 302


def test_asking_for_the_head_of_a_stream_takes_no_place(app: Flask, technician_at: Visitor) -> None:
    for _ in range(10):
        assert technician_at.client.head("/stream").status_code == 200
    with technician_at.client.get("/stream") as answer:
        assert answer.status_code == 200
    for _ in range(10):  # closed before the first line was read
        technician_at.client.get("/stream").close()
    assert app.extensions["heelmark-tail"].listeners == 0


def test_a_password_is_changed_with_the_old_one_alone(technician_at: Visitor) -> None:
    wrong = technician_at.send("/settings/password", old_password="wrong", new_password="a-new-long-password")
    assert "it is not this one" in wrong.text
    short = technician_at.send("/settings/password", old_password=PASSWORD, new_password="short")
    assert "at least 10 characters" in short.text
    done = technician_at.send("/settings/password", old_password=PASSWORD, new_password="a-new-long-password")
    assert done.status_code == 303
    assert technician_at.sign_in("technician", "a-new-long-password").status_code == 303


def test_units_are_the_persons_own(person: Callable[[str], Visitor]) -> None:
    one, other = person("technician"), person("supervisor")
    one.send("/settings", units="si", theme="dark", language="en")
    assert "°C" in one.get("/settings").text
    for visitor, unit in ((one, "kg"), (other, "lb")):
        assert f'<span class="unit">{unit}</span>' in visitor.get("/register").text
    assert 'data-theme="dark"' in one.get("/rack").text


def test_pages_are_sealed_and_not_cached(technician_at: Visitor) -> None:
    headers = technician_at.get("/rack").headers
    assert "unsafe" not in headers["Content-Security-Policy"]
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["Cache-Control"] == "no-store"


def test_no_page_carries_inline_script_or_style(technician_at: Visitor) -> None:
    for path in ("/rack", "/settings", "/register", "/hook-up", "/alarms", "/devices"):
        text = technician_at.get(path).text
        assert "<style" not in text
        assert " style=" not in text
        assert text.count("<script") == text.count("<script src=")


def test_an_administrator_alone_lets_people_in_and_shuts_them_out(person: Callable[[str], Visitor]) -> None:
    administrator, technician = person("administrator"), person("technician")
    assert technician.get("/people").status_code == 403
    given = {"login": "new", "name": "New Hand", "role": "technician", "new_password": "a-first-password"}
    assert (
        "at least 10 characters" in administrator.send("/people", **{**given, "new_password": "short"}).text
    )
    assert administrator.send("/people", **given).status_code == 303
    assert "is taken" in administrator.send("/people", **given).text
    assert technician.send("/people/1/disable").status_code == 403
    assert administrator.send("/people/1/disable").status_code == 409
    assert administrator.send("/people/2/disable").status_code == 303
    assert technician.get("/rack").status_code == 302


def test_a_place_has_its_elevation_in_the_persons_units(
    person: Callable[[str], Visitor], services: Services, actor: Actor
) -> None:
    supervisor, technician = person("supervisor"), person("technician")
    assert technician.send("/places", name="van 9", kind="van", elevation="5280").status_code == 403
    assert supervisor.send("/places", name="van 9", kind="van", elevation="5280").status_code == 303
    with services.database.reading(actor.organisation_id) as work:
        van = places.by_name(work, "van 9")
    assert van is not None
    assert van.elevation_m == pytest.approx(1609.344)
    assert "5280\u202fft" in technician.get("/places").text


def test_the_log_says_who_asked(technician_at: Visitor, capsys: pytest.CaptureFixture[str]) -> None:
    technician_at.get("/rack")
    technician_at.client.get("/sign-in")
    lines = [json.loads(line) for line in capsys.readouterr().err.splitlines() if line.startswith("{")]
    told = {line["route"]: line["actor"] for line in lines if line["event"] == "request.answered"}
    assert told["/rack"] == "person:technician"
