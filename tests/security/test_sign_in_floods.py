"""Many who sign in at once, and who guesses at another's password: the rest goes on, and nobody is locked out."""

import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import pytest

from tests.support.attackers import all_at_once, session_from
from tests.support.signing_in import AtTheBoard
from tests.support.stack import Stack

pytestmark = pytest.mark.slow
MOST_CHECKS_MEANWHILE = 4
"""Of passwords, while one other request is answered: each of two processes makes one at a time."""


def memory_bytes(site: Stack) -> int:
    service = site.children()["service"]
    return sum(one.memory_info().rss for one in [service, *service.children(recursive=True)])


@contextmanager
def repeated(what: Callable[[], object], every_s: float) -> Iterator[None]:
    """Do something again and again beside whatever is done meanwhile."""
    stopping = threading.Event()

    def go_on() -> None:
        while not stopping.wait(every_s):
            what()

    thread = threading.Thread(target=go_on)
    thread.start()
    try:
        yield
    finally:
        stopping.set()
        thread.join(60)


def credentials(site: Stack) -> tuple[str, str]:
    told = site.first_run["board"]
    return told["user"], told["password"]


def test_two_hundred_sign_ins_at_once_leave_memory_flat_and_others_served(site: Stack) -> None:
    """Each takes 64 MiB of memory while it is checked, so few are checked at once, and not too many wait."""
    attacker = AtTheBoard(site.first_run["base_url"], "127.0.0.66")
    token, cookies = attacker.token(), attacker.session.cookies.get_dict()
    form = {"csrf": token, "login": "nobody", "password": "a guess of many"}
    before, memory = memory_bytes(site), [0]
    checked: list[float] = []
    served: list[tuple[int, float, float]] = []

    def work() -> None:
        began = time.monotonic()
        served.append((site.call("GET", "/places", "reader").status_code, began, time.monotonic()))

    def attempt(_number: int) -> int:
        with session_from("127.0.0.66") as session:
            url = f"{attacker.base_url}/sign-in"
            status = session.post(url, data=form, cookies=cookies, timeout=60).status_code
        if status == 403:
            checked.append(time.monotonic())
        return status

    with repeated(lambda: memory.append(memory_bytes(site)), 0.02), repeated(work, 0.1):
        statuses = all_at_once(200, attempt)
    assert set(statuses) <= {403, 429, 503}, set(map(str, statuses))
    assert max(memory) - before < 250_000_000
    assert {status for status, _, _ in served} == {200}
    # In order, not in seconds, which a busy machine has too few of: nobody else waits for a queue of checks.
    waited_for = [sum(began < at < ended for at in checked) for _, began, ended in served]
    assert max(waited_for) <= MOST_CHECKS_MEANWHILE, waited_for


def test_whoever_has_the_password_gets_in_during_a_flood(site: Stack) -> None:
    stopping = threading.Event()

    def flood(number: int) -> None:
        guesser = AtTheBoard(site.first_run["base_url"], f"127.0.1.{number + 1}")
        token = guesser.token()
        while not stopping.is_set():
            guesser.send("/sign-in", token, login=f"nobody-{number}", password="a guess of many")

    threads = [threading.Thread(target=flood, args=(number,), daemon=True) for number in range(40)]
    for thread in threads:
        thread.start()
    time.sleep(1.0)
    person, began, statuses = AtTheBoard(site.first_run["base_url"], "127.0.0.7"), time.monotonic(), []
    while 303 not in statuses and time.monotonic() - began < 120:
        answer = person.sign_in(*credentials(site))
        statuses.append(answer.status_code)
        if answer.status_code == 503:
            time.sleep(float(answer.headers["Retry-After"]))
    stopping.set()
    for thread in threads:
        thread.join(60)
    assert statuses[-1] == 303, statuses


def test_wrong_passwords_for_anothers_name_lock_that_person_out_of_nothing(site: Stack) -> None:
    login, password = credentials(site)
    guesser = AtTheBoard(site.first_run["base_url"], "127.0.0.99")
    statuses = [guesser.sign_in(login, f"guess number {number}").status_code for number in range(12)]
    assert statuses == [403] * 10 + [429] * 2
    assert guesser.sign_in(login, password).status_code == 429, "the guesser waits, whatever it says now"
    assert AtTheBoard(site.first_run["base_url"], "127.0.0.98").sign_in(login, password).status_code == 303


def test_an_address_that_guesses_at_many_names_is_slowed_too(site: Stack) -> None:
    guesser = AtTheBoard(site.first_run["base_url"], "127.0.0.97")
    token = guesser.token()
    statuses = [
        guesser.send("/sign-in", token, login=f"name-{number}", password="the same guess").status_code
        for number in range(52)
    ]
    assert statuses.count(403) == 50
    assert statuses[-2:] == [429] * 2
