"""A phone whose coverage goes and comes: what it knew is still shown, what was entered is recorded once."""

from collections.abc import Callable, Iterator
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Error, Page, Route, expect

from tests.browser.conftest import sign_in
from tests.browser.server import Server, free_port

STAMPED = {
    "marks": "DOT-4BA400",
    "water_capacity_kg": 21.6,
    "tare_kg": 12.4,
    "requalification_stamp": "06 A123 23",
}
AHEAD = """async () => {
  const kept = await (await caches.open("pages")).keys();
  return kept.filter((one) => new URL(one.url).pathname.endsWith("/weight")).length >= 4;
}"""
NOTHING_WAITS = """() => new Promise((done) => {
  const asked = indexedDB.open("heelmark");
  asked.onsuccess = () => {
    const all = asked.result.transaction("entries").objectStore("entries").getAll();
    all.onsuccess = () => { asked.result.close(); done(all.result.every((one) => one.reasons)); };
  };
})"""
Phone = Callable[[], Page]


def until(page: Page, script: str) -> None:
    """Ask again until a promise answers true; ``wait_for_function`` takes the promise itself for an answer."""
    for _ in range(180):
        if page.evaluate(script):
            return
        page.wait_for_timeout(500)
    raise AssertionError(script)


@pytest.fixture(scope="module")
def alone(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """A service of these tests' own: they stop it and start it again."""
    made = Server(tmp_path_factory.mktemp("offline"), free_port())
    made.set_up()
    made.start()
    for serial in ("OFF-1", "OFF-2", "OFF-3", "OFF-4"):
        made.register(serial, **STAMPED)
    yield made
    made.stop()


@pytest.fixture
def phone(browser: Browser, alone: Server) -> Iterator[Phone]:
    """Makes a phone that is signed in and has seen the list."""
    if alone.process is None:
        alone.start()
    contexts: list[BrowserContext] = []

    def made() -> Page:
        contexts.append(browser.new_context(viewport={"width": 390, "height": 844}))
        page = contexts[-1].new_page()
        sign_in(page, alone, "tess")
        page.evaluate("navigator.serviceWorker.ready")
        # The list is seen once more with the worker in charge, which then fetches what is on it.
        page.goto(f"{alone.url}/rack")
        until(page, AHEAD)
        return page

    yield made
    for context in contexts:
        context.close()


def enter_weight(page: Page, alone: Server, serial: str, pounds: str) -> None:
    page.goto(f"{alone.url}/cylinders/{serial}/weight")
    page.fill("#f-mass", pounds)
    page.get_by_role("button", name="Record the weight").click()


def weighings(alone: Server, serial: str) -> list[Any]:
    """Every weighing that is recorded of it, the first one first."""
    told = alone.call("supervisor", "GET", "/audit?limit=200")["items"]
    of_it = [one for one in told if one["subject"] == f"cylinders/{serial}"]
    weighed = [
        one for one in of_it if one["data"].get("change") == "corrected" and "gross_mass_kg" in one["data"]
    ]
    return sorted(weighed, key=lambda one: one["id"])


def settled(page: Page, alone: Server) -> None:
    """Nothing waits on the phone any more."""
    page.goto(f"{alone.url}/entries")
    until(page, NOTHING_WAITS)


def test_without_coverage_the_cylinder_is_still_shown_and_says_as_of_when(
    phone: Phone, alone: Server
) -> None:
    page = phone()
    alone.stop()
    page.goto(f"{alone.url}/cylinders/OFF-1")
    expect(page.locator("main")).to_contain_text("OFF-1")
    expect(page.locator("#entries-state")).to_contain_text("No coverage. This page is as of")
    page.goto(f"{alone.url}/rack")
    expect(page.locator("[data-card]").first).to_be_visible()


def test_what_is_entered_without_coverage_survives_a_reload_and_is_recorded_once(
    phone: Phone, alone: Server
) -> None:
    page = phone()
    alone.stop()
    enter_weight(page, alone, "OFF-1", "40.0")
    page.wait_for_url(f"{alone.url}/entries")
    expect(page.locator("#entries li")).to_contain_text("Weight of OFF-1")
    page.reload()
    expect(page.locator("#entries li")).to_contain_text("Waits for coverage")
    page.close()
    alone.start()
    page = page.context.new_page()
    settled(page, alone)
    found = weighings(alone, "OFF-1")
    assert [round(one["data"]["gross_mass_kg"], 2) for one in found] == [18.14]


def test_an_answer_that_is_lost_on_its_way_records_nothing_twice(phone: Phone, alone: Server) -> None:
    page = phone()
    lost: list[str] = []

    def swallow(route: Route) -> None:
        if route.request.method == "POST" and not lost:
            lost.append(route.fetch().text())
            route.abort("connectionreset")
        else:
            route.continue_()

    page.context.route("**/entries", swallow)
    enter_weight(page, alone, "OFF-2", "41.0")
    page.wait_for_url(f"{alone.url}/entries")
    settled(page, alone)
    assert len(lost) == 1
    assert "taken" in lost[0]
    assert len(weighings(alone, "OFF-2")) == 1


def test_what_another_phone_has_overtaken_comes_back_with_the_reason(phone: Phone, alone: Server) -> None:
    first, second = phone(), phone()
    first.context.route("**/entries**", lambda route: route.abort("internetdisconnected"))
    enter_weight(first, alone, "OFF-3", "42.0")
    first.wait_for_url(f"{alone.url}/entries")
    enter_weight(second, alone, "OFF-3", "43.0")
    second.wait_for_url(f"{alone.url}/cylinders/OFF-3")
    first.context.unroute("**/entries**")
    settled(first, alone)
    expect(first.locator("#entries li")).to_contain_text("Not taken: OFF-3 was weighed again since")
    expect(first.get_by_role("link", name="Enter it again")).to_be_visible()
    assert len(weighings(alone, "OFF-3")) == 1


def test_entries_go_out_in_the_order_in_which_they_were_entered(phone: Phone, alone: Server) -> None:
    page = phone()
    alone.stop()
    for pounds in ("44.0", "45.0", "46.0"):
        enter_weight(page, alone, "OFF-4", pounds)
        page.wait_for_url(f"{alone.url}/entries")
    alone.start()
    settled(page, alone)
    found = [round(one["data"]["gross_mass_kg"] / 0.45359237, 1) for one in weighings(alone, "OFF-4")]
    assert found == [44.0, 45.0, 46.0]


def test_what_is_refused_at_once_stays_on_the_phone_until_the_form_that_says_why_is_there(
    phone: Phone, alone: Server
) -> None:
    page = phone()
    below_its_tare = "5.0"

    def cut(route: Route) -> None:
        if route.request.method == "POST":
            route.abort("internetdisconnected")
        else:
            route.continue_()

    page.context.route("**/OFF-1/weight", cut)
    enter_weight(page, alone, "OFF-1", below_its_tare)
    with pytest.raises(Error, match="ERR_INTERNET_DISCONNECTED"):
        page.wait_for_url("**/OFF-1/weight/never")
    page.context.unroute("**/OFF-1/weight")
    page.goto(f"{alone.url}/entries")
    expect(page.locator("#entries li")).to_contain_text("Weight of OFF-1")
    expect(page.locator("#entries li")).to_contain_text("Not taken")
    page.get_by_role("button", name="Remove from this list").click()
    expect(page.locator("#entries li")).to_have_count(0)

    enter_weight(page, alone, "OFF-1", below_its_tare)
    expect(page.locator("#f-mass")).to_have_value(below_its_tare)
    expect(page.locator("main")).to_contain_text("Not done")
    page.goto(f"{alone.url}/entries")
    expect(page.locator("#entries li")).to_have_count(0)


def test_whoever_signs_out_leaves_no_page_behind(phone: Phone, alone: Server) -> None:
    page = phone()
    page.get_by_role("button", name="Sign out").click()
    page.wait_for_url("**/sign-in**")
    until(page, "async () => !(await caches.has('pages'))")
