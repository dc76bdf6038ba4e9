"""Event streams: one person's share, and their end when the right to them ends."""

import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager

import pytest
import requests

from tests.support.pace import bound_s, lone_s
from tests.support.signing_in import AtTheBoard
from tests.support.stack import Stack

pytestmark = pytest.mark.slow


def token_of(site: Stack, name: str) -> tuple[int, str]:
    """A reader's token, made as an operator does."""
    made = site.command("token", "create", name, "--scope", "reader").strip()
    listed = site.command("token", "list").splitlines()
    return int(next(line for line in listed if f" {name} " in line).split()[0]), made


@contextmanager
def stream(site: Stack, secret: str, method: str = "GET") -> Iterator[requests.Response]:
    url = f"{site.first_run['base_url']}/api/v1/events"
    headers = {"Authorization": f"Bearer {secret}"}
    with requests.request(method, url, headers=headers, stream=True, timeout=40) as answer:
        yield answer


def test_one_caller_takes_no_more_than_its_share(site: Stack) -> None:
    _, greedy = token_of(site, "greedy")
    lone = lone_s(lambda: site.get("/places"))
    with ExitStack() as stack:
        for _ in range(130):
            assert stack.enter_context(stream(site, greedy, "HEAD")).status_code == 200
        statuses = [stack.enter_context(stream(site, greedy)).status_code for _ in range(130)]
        assert statuses.count(200) == 16
        assert set(statuses[16:]) == {429}
        other = stack.enter_context(stream(site, site.first_run["tokens"]["reader"]))
        assert other.status_code == 200
        assert lone_s(lambda: site.get("/places"), 1) < bound_s(3.0, lone)


def ended_after(answer: requests.Response, began: float) -> float:
    for _ in answer.iter_lines():
        pass
    return time.monotonic() - began


def test_a_stream_ends_soon_after_its_token_was_revoked(site: Stack) -> None:
    number, secret = token_of(site, "revoked")
    lone = lone_s(lambda: site.get("/places"))
    with stream(site, secret) as answer:
        assert answer.status_code == 200
        site.command("token", "revoke", str(number))
        assert ended_after(answer, time.monotonic()) < bound_s(30.0, lone)


def test_a_boards_stream_ends_soon_after_its_person_was_disabled(site: Stack) -> None:
    base = site.first_run["base_url"]
    administrator, person = AtTheBoard(base, "127.0.2.1"), AtTheBoard(base, "127.0.2.2")
    board = site.first_run["board"]
    assert administrator.sign_in(board["user"], board["password"]).status_code == 303
    new = {"login": "leaving", "name": "Lee Ving", "role": "technician", "new_password": "a long password"}
    assert administrator.send("/people", administrator.token("/people"), **new).status_code == 303
    assert person.sign_in("leaving", "a long password").status_code == 303
    answer = person.get("/stream?since=0", stream=True)
    assert answer.status_code == 200
    page = administrator.get("/people").text
    path = page[page.index("leaving") :].partition('action="')[2].partition('"')[0]
    began = time.monotonic()
    assert administrator.send(path, administrator.token("/people")).status_code == 303
    assert ended_after(answer, began) < bound_s(30.0, lone_s(lambda: site.get("/places")))


def test_a_signed_out_session_is_worth_nothing(site: Stack) -> None:
    """Also for who kept a copy of its cookie."""
    board = site.first_run["board"]
    person = AtTheBoard(site.first_run["base_url"], "127.0.2.3")
    assert person.sign_in(board["user"], board["password"]).status_code == 303
    copied = AtTheBoard(site.first_run["base_url"], "127.0.2.4")
    copied.session.cookies.update(person.session.cookies)
    elsewhere = AtTheBoard(site.first_run["base_url"], "127.0.2.5")
    assert elsewhere.sign_in(board["user"], board["password"]).status_code == 303
    assert copied.get("/rack").status_code == 200
    assert person.send("/sign-out", person.token("/settings")).status_code == 303
    assert copied.get("/rack").status_code == 302
    assert elsewhere.get("/rack").status_code == 200, "another session of the same person goes on"
