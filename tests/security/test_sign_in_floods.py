"""Many who sign in at once, and who guesses at another's password: the rest goes on, and nobody is locked out."""

import threading
import time

import pytest

from tests.support.attackers import all_at_once, session_from
from tests.support.signing_in import AtTheBoard
from tests.support.stack import Stack

pytestmark = pytest.mark.slow


def memory_bytes(site: Stack) -> int:
    service = site.children()["service"]
    return sum(one.memory_info().rss for one in [service, *service.children(recursive=True)])


def credentials(site: Stack) -> tuple[str, str]:
    told = site.first_run["board"]
    return told["user"], told["password"]


def test_two_hundred_sign_ins_at_once_leave_memory_flat_and_others_served(site: Stack) -> None:
    """Each takes 64 MiB of memory while it is checked, so few are checked at once, and not too many wait."""
    attacker = AtTheBoard(site.first_run["base_url"], "127.0.0.66")
    token, cookies = attacker.token(), attacker.session.cookies.get_dict()
    form = {"csrf": token, "login": "nobody", "password": "a guess of many"}
    before, peak, stopping, longest = memory_bytes(site), [0], threading.Event(), [0.0]

    def watch() -> None:
        while not stopping.wait(0.02):
            peak[0] = max(peak[0], memory_bytes(site))

    def go_on_working() -> None:
        while not stopping.wait(0.1):
            began = time.monotonic()
            assert site.call("GET", "/places", "reader").status_code == 200
            longest[0] = max(longest[0], time.monotonic() - began)

    def attempt(_number: int) -> int:
        with session_from("127.0.0.66") as session:
            url = f"{attacker.base_url}/sign-in"
            return session.post(url, data=form, cookies=cookies, timeout=60).status_code

    beside = [threading.Thread(target=watch), threading.Thread(target=go_on_working)]
    for thread in beside:
        thread.start()
    statuses = all_at_once(200, attempt)
    stopping.set()
    for thread in beside:
        thread.join(60)
    assert set(statuses) <= {403, 429, 503}, set(map(str, statuses))
    assert peak[0] - before < 250_000_000
    assert longest[0] < 3.0


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
    while 302 not in statuses and time.monotonic() - began < 30:
        answer = person.sign_in(*credentials(site))
        statuses.append(answer.status_code)
        if answer.status_code == 503:
            time.sleep(float(answer.headers["Retry-After"]))
    stopping.set()
    for thread in threads:
        thread.join(60)
    assert statuses[-1] == 302, statuses


def test_wrong_passwords_for_anothers_name_lock_that_person_out_of_nothing(site: Stack) -> None:
    login, password = credentials(site)
    guesser = AtTheBoard(site.first_run["base_url"], "127.0.0.99")
    statuses = [guesser.sign_in(login, f"guess number {number}").status_code for number in range(12)]
    assert statuses == [403] * 10 + [429] * 2
    assert guesser.sign_in(login, password).status_code == 429, "the guesser waits, whatever it says now"
    assert AtTheBoard(site.first_run["base_url"], "127.0.0.98").sign_in(login, password).status_code == 302


def test_an_address_that_guesses_at_many_names_is_slowed_too(site: Stack) -> None:
    guesser = AtTheBoard(site.first_run["base_url"], "127.0.0.97")
    token = guesser.token()
    statuses = [
        guesser.send("/sign-in", token, login=f"name-{number}", password="the same guess").status_code
        for number in range(52)
    ]
    assert statuses.count(403) == 50
    assert statuses[-2:] == [429] * 2
