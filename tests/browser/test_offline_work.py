"""The work at a cylinder without coverage: judged by what was last known, recorded once, refused with a reason."""

from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import psutil
import pytest
from playwright.sync_api import Browser, Page, Route, expect

from tests.browser.conftest import CHROMIUM, FLAGS, sign_in
from tests.browser.phones import ALL, Phone, look_around, settled, until
from tests.browser.server import Server

LB = 0.45359237


def ask(page: Page, alone: Server, serial: str, designation: str, pounds: str) -> None:
    """Ask whether so much may go in."""
    page.goto(f"{alone.url}/cylinders/{serial}/transfer")
    page.get_by_label("into this cylinder").check()
    page.fill("#f-designation", designation)
    page.fill("#f-mass", pounds)
    page.get_by_label("liquid", exact=True).check()
    page.get_by_role("button", name="Check").click()


def fill(page: Page, alone: Server, serial: str, designation: str, pounds: str) -> None:
    """Check it, and record it."""
    ask(page, alone, serial, designation, pounds)
    page.get_by_role("button", name="Record the transfer").click()


def transfers(alone: Server, serial: str) -> list[tuple[str, str | None, float]]:
    """Direction, refrigerant and pounds of every transfer, the oldest first."""
    told: list[Any] = alone.call("reader", "GET", f"/transfers?cylinder={serial}")["items"]
    return [(one["direction"], one["designation"], round(one["mass_kg"] / LB, 1)) for one in reversed(told)]


@contextmanager
def cut(page: Page, server: Server, step: str) -> Iterator[list[str]]:
    """Cut the net once, at one step of sending an entry; it is back at the end."""
    struck: list[str] = []

    def one(route: Route) -> None:
        request = route.request
        at = {
            "token": request.url.endswith("/entries/token"),
            "sent": request.method == "POST",
            "answer": request.method == "POST",
            "next page": request.method == "POST",
        }
        if struck or not at[step]:
            route.fallback()
            return
        struck.append(step)
        if step == "next page":
            answer = route.fetch()
            server.stop()
            route.fulfill(response=answer)
            return
        if step == "answer":
            route.fetch()
        route.abort("connectionreset")

    page.context.route("**/*", one)
    try:
        yield struck
    finally:
        page.context.unroute("**/*", one)
        if server.process is None:
            server.start()


def kill(profile: Path) -> None:
    """End the browser of a profile as a dead battery does."""
    for one in psutil.Process().children(recursive=True):
        with suppress(psutil.Error):
            given = " ".join(one.cmdline())
            if str(profile) in given and "--type=" not in given:
                one.kill()


def test_a_fill_is_judged_by_what_was_last_known_and_says_so(phone: Phone, alone: Server) -> None:
    page = phone()
    alone.stop()
    ask(page, alone, "VAC-1", "R-410A", "90")
    expect(page.locator("#check")).to_contain_text("Not allowed")
    expect(page.locator("#check")).to_contain_text("Too much: there is room for")
    expect(page.get_by_role("button", name="Record the transfer")).to_have_count(0)
    ask(page, alone, "VAC-1", "R-744", "5")
    expect(page.locator("#check")).to_contain_text("R-744 may not go into it")
    ask(page, alone, "OFF-1", "R-410A", "5")
    expect(page.locator("#check")).to_contain_text("Not allowed")
    fill(page, alone, "VAC-1", "r-410a", "10")
    page.wait_for_url(f"{alone.url}/entries")
    expect(page.locator("#entries li")).to_contain_text("Judged by what this phone knew")
    ask(page, alone, "VAC-1", "R-22", "5")
    expect(page.locator("#check")).to_contain_text("R-22 may not go into it")
    room = "#check li:has-text('room for')"
    ask(page, alone, "VAC-1", "R-410A", "40")
    expect(page.locator(room)).to_be_visible()
    alone.start()
    settled(page, alone)
    assert transfers(alone, "VAC-1") == [("in", "R-410A", 10.0)]
    (told,) = alone.call("reader", "GET", "/transfers?cylinder=VAC-1")["items"]
    assert "judged by what was known at" in told["note"]


def test_with_coverage_the_service_checks_and_the_page_can_be_loaded_again(
    phone: Phone, alone: Server
) -> None:
    page = phone()
    ask(page, alone, "VAC-2", "R-410A", "10")
    expect(page.locator("#check")).to_contain_text("After it there is room for")
    page.reload()
    expect(page.locator("#check")).to_contain_text("No objections")
    expect(page.locator("#f-mass")).to_have_value("10")
    alone.stop()
    page.reload()
    expect(page.locator("#f-mass")).to_have_value("10")
    expect(page.locator("#check")).to_have_count(0)
    alone.start()
    page.get_by_role("button", name="Check first").click()
    page.get_by_role("button", name="Record the transfer").click()
    page.wait_for_url(f"{alone.url}/cylinders/VAC-2")
    assert transfers(alone, "VAC-2") == [("in", "R-410A", 10.0)]


@pytest.mark.parametrize("step", ["token", "sent", "answer", "next page"])
def test_wherever_the_net_is_cut_nothing_is_lost_and_nothing_recorded_twice(
    phone: Phone, alone: Server, step: str
) -> None:
    page = phone()
    before = transfers(alone, "VAC-3")
    ask(page, alone, "VAC-3", "R-134a", "2")
    with cut(page, alone, step) as struck:
        page.get_by_role("button", name="Record the transfer").click()
        page.wait_for_url(lambda url: url.endswith(("/entries", "/VAC-3")))
    assert len(struck) == 1
    page.reload()
    page.goto(f"{alone.url}/cylinders/VAC-3/care")
    page.get_by_label("sound: no dents").check()
    inspected = page.locator("form", has=page.locator("[value=inspection]"))
    with cut(page, alone, step) as struck:
        inspected.get_by_role("button").click()
        page.wait_for_url(lambda url: url.endswith(("/entries", "/VAC-3")))
    assert len(struck) == 1
    serial = f"NEW-{step.replace(' ', '-')}"
    page.goto(f"{alone.url}/register")
    page.fill("#f-serial", serial)
    page.fill("#f-mass", "30")
    with cut(page, alone, step) as struck:
        page.get_by_role("button", name="Register", exact=True).click()
        page.wait_for_url(lambda url: not url.endswith("/register"))
    settled(page, alone)
    assert page.evaluate(ALL) == []
    assert transfers(alone, "VAC-3") == [*before, ("in", "R-134a", 2.0)]
    told = alone.call("supervisor", "GET", "/audit?limit=200")["items"]
    seen = [one["data"].get("change") for one in told if one["subject"] == "cylinders/VAC-3"]
    assert seen.count("inspection") == len(transfers(alone, "VAC-3")), "one with each fill"
    assert alone.call("reader", "GET", f"/cylinders/{serial}")["gross_mass_lb"] == pytest.approx(30.0)


def test_a_van_is_gone_through_without_coverage(phone: Phone, alone: Server) -> None:
    page = phone()
    alone.stop()
    page.goto(f"{alone.url}/register")
    page.select_option("#f-place", "shop")
    page.fill("#f-marks", "DOT-4BA400")
    for serial, pounds in (("VAN-1", "41"), ("VAN-2", "42"), ("VAN-3", "43")):
        page.fill("#f-serial", serial)
        page.fill("#f-mass", pounds)
        page.get_by_role("button", name="Register, then the next one").click()
        expect(page.locator("#f-serial")).to_have_value("")
        expect(page.locator("#f-marks")).to_have_value("DOT-4BA400")
        expect(page.locator("#f-place")).to_have_value("shop")
    expect(page.locator("#entries-state")).to_contain_text("3 entries wait")
    alone.start()
    settled(page, alone)
    assert page.evaluate(ALL) == []
    for serial, pounds in (("VAN-1", 41.0), ("VAN-2", 42.0), ("VAN-3", 43.0)):
        assert alone.call("reader", "GET", f"/cylinders/{serial}")["gross_mass_lb"] == pytest.approx(pounds)


def test_what_another_phone_poured_in_meanwhile_sets_it_aside_until_it_is_cleared_up(
    phone: Phone, alone: Server
) -> None:
    first, second = phone(), phone()
    first.context.route("**/*", lambda route: route.abort("internetdisconnected"))
    fill(first, alone, "VAC-4", "R-22", "5")
    first.wait_for_url(f"{alone.url}/entries")
    fill(second, alone, "VAC-4", "R-410A", "5")
    second.wait_for_url(f"{alone.url}/cylinders/VAC-4")
    first.context.unroute("**/*")
    settled(first, alone)
    expect(first.locator("#entries li")).to_contain_text("Not taken: The contents of VAC-4 changed")
    expect(first.locator("#entries li")).to_contain_text("The cylinder is on hold")
    (hold,) = alone.call("reader", "GET", "/holds?cylinder=VAC-4")["items"]
    assert "it may be in the cylinder" in hold["reason"]
    first.get_by_role("button", name="It was done: record it as it is").click()
    expect(first.locator("#entries li")).to_have_count(0)
    assert transfers(alone, "VAC-4") == [("in", "R-410A", 5.0), ("in", "R-22", 5.0)]
    assert len(alone.call("reader", "GET", "/holds?cylinder=VAC-4")["items"]) == 1


def test_after_31_days_an_entry_comes_back_and_is_recorded_only_when_somebody_says_so(
    phone: Phone, alone: Server
) -> None:
    page = phone()
    page.clock.set_fixed_time(datetime.now(UTC) - timedelta(days=31))
    page.context.route("**/*", lambda route: route.abort("internetdisconnected"))
    page.goto(f"{alone.url}/cylinders/OFF-2/care")
    page.fill("#f-microns", "400")
    page.get_by_role("button", name="Record the evacuation").click()
    page.wait_for_url(f"{alone.url}/entries")
    page.close()
    page = page.context.new_page()
    page.context.unroute("**/*")
    settled(page, alone)
    expect(page.locator("#entries li")).to_contain_text("Not taken: Entered 31 days ago")
    told = alone.call("supervisor", "GET", "/audit?limit=200")["items"]
    assert not [one for one in told if one["data"].get("change") == "evacuation"]
    page.reload()
    expect(page.get_by_role("link", name="Enter it again")).to_be_visible()


def test_a_phone_that_is_killed_loses_nothing(browser: Browser, alone: Server, tmp_path: Path) -> None:
    if alone.process is None:
        alone.start()
    at = {"user_data_dir": tmp_path, "executable_path": CHROMIUM, "args": FLAGS}
    context = browser.browser_type.launch_persistent_context(**at)  # type: ignore[arg-type]
    page = context.new_page()
    sign_in(page, alone, "tess")
    look_around(page, alone)
    alone.stop()
    fill(page, alone, "VAC-5", "R-410A", "5")
    page.wait_for_url(f"{alone.url}/entries")
    kill(tmp_path)
    context = browser.browser_type.launch_persistent_context(**at)  # type: ignore[arg-type]
    page = context.new_page()
    page.goto(f"{alone.url}/entries")
    expect(page.locator("#entries li")).to_contain_text("Transfer of VAC-5")
    alone.start()
    sign_in(page, alone, "tess")
    settled(page, alone)
    assert page.evaluate(ALL) == []
    assert transfers(alone, "VAC-5") == [("in", "R-410A", 5.0)]
    context.close()


def test_after_a_change_of_language_the_kept_pages_are_in_the_new_one(phone: Phone, alone: Server) -> None:
    page = phone()
    page.goto(f"{alone.url}/settings")
    page.locator("[name=language][value=es]").check()
    page.locator("form", has=page.locator("[name=language]")).get_by_role("button").click()
    page.wait_for_url(f"{alone.url}/settings")
    expect(page.locator("html")).to_have_attribute("lang", "es")
    until(
        page,
        """async () => {
          const cache = await caches.open("pages");
          for (const one of await cache.keys()) {
            if (!(await (await cache.match(one)).text()).includes('<html lang="es"')) return false;
          }
          return localStorage.getItem("wears")?.startsWith("es");
        }""",
    )
    alone.stop()
    for path in ("/rack", "/cylinders/OFF-1", "/cylinders/OFF-1/transfer", "/entries"):
        page.goto(f"{alone.url}{path}")
        expect(page.locator("html")).to_have_attribute("lang", "es")
    expect(page.locator("#entries-state")).to_contain_text("Sin señal")
    alone.start()
    page.goto(f"{alone.url}/settings")
    page.locator("[name=language][value=en]").check()
    page.locator("form", has=page.locator("[name=language]")).get_by_role("button").click()
