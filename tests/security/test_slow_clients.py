"""Slow and many connections: whoever sends whole requests goes on being served."""

import pytest
import requests

from tests.support.attackers import slow_clients
from tests.support.pace import bound_s, lone_s
from tests.support.stack import Stack

pytestmark = pytest.mark.slow
ANSWERED_WITHIN_S = 3.0
BODY = b"POST /api/v1/verdicts HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\n"
FORM = b"POST /sign-in HTTP/1.1\r\nHost: x\r\nContent-Type: application/x-www-form-urlencoded\r\n"
ATTACKS = {
    "nothing at all": (500, b"", b""),
    "headers that never end": (500, b"GET / HTTP/1.1\r\nHost: x\r\n", b"X-A: b\r\n"),
    "a body that never comes": (300, BODY + b"Content-Length: 900000\r\n\r\n", b""),
    "a body that drips": (300, BODY + b"Content-Length: 900000\r\n\r\n{", b" "),
    "chunks that drip": (300, BODY + b"Transfer-Encoding: chunked\r\n\r\n", b"1\r\n \r\n"),
    "a large chunk that drips": (
        300,
        FORM + b"Transfer-Encoding: chunked\r\n\r\nfffffff\r\n",
        b"login=",
    ),
    "a large form that drips": (300, FORM + b"Content-Length: 40000000\r\n\r\n", b"login="),
    "an import that drips": (
        300,
        BODY.replace(b"verdicts", b"imports/cylinders") + b"Content-Length: 40000000\r\n\r\n",
        b"serial",
    ),
    "more connections than there are": (1500, b"GET / HTTP/1.1\r\n", b"X"),
}


def ask(site: Stack) -> None:
    """A call and a page, each answered whole."""
    assert site.call("GET", "/places", "reader").status_code == 200
    assert requests.get(f"{site.first_run['base_url']}/sign-in", timeout=30).status_code == 200


@pytest.mark.parametrize("attack", ATTACKS)
def test_whole_requests_are_answered_meanwhile(site: Stack, attack: str) -> None:
    count, opening, drip = ATTACKS[attack]
    lone = lone_s(lambda: ask(site))
    with slow_clients(int(site.environ["HEELMARK_HTTP_PORT"]), count, opening, drip):
        attacked = lone_s(lambda: ask(site), 8)
    assert attacked < bound_s(ANSWERED_WITHIN_S, max(lone, lone_s(lambda: ask(site))))


def test_a_slow_reader_ties_up_no_thread_for_ever(site: Stack) -> None:
    """Answers that nobody reads are given up; 300 of them leave room for others."""
    opening = b"GET /api/v1/openapi.json HTTP/1.1\r\nHost: x\r\n\r\n" * 8
    lone = lone_s(lambda: ask(site))
    with slow_clients(int(site.environ["HEELMARK_HTTP_PORT"]), 300, opening, b""):
        assert lone_s(lambda: ask(site), 1) < bound_s(ANSWERED_WITHIN_S, lone)
