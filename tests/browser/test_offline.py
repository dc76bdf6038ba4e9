"""A phone whose coverage goes and comes: what it knew is still shown, what was entered is recorded once."""

from typing import Any

import pytest
from playwright.sync_api import Error, Page, Route, expect

from tests.browser.phones import Phone, settled, until
from tests.browser.server import Server


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


def test_without_coverage_the_first_page_is_there_and_leads_to_what_the_phone_knows(
    phone: Phone, alone: Server
) -> None:
    page = phone()
    page.goto(f"{alone.url}/start")
    until(page, "async () => !!(await caches.match('/start'))")
    alone.stop()
    page.goto(f"{alone.url}/")
    expect(page.locator("h1")).to_have_text("What are you about to do?")
    expect(page.locator("#entries-state")).to_contain_text("No coverage")
    page.get_by_role("link", name="Find out what is in one").click()
    page.wait_for_url(f"{alone.url}/rack")
    page.goto(f"{alone.url}/start")
    page.get_by_role("link", name="It leaks").click()
    page.wait_for_url(f"{alone.url}/help/leak")
