"""What happens elsewhere appears on an open page, without reload and without anything missed."""

import itertools

import pytest
from playwright.sync_api import Page, expect

from tests.browser.server import Server

NUMBERS = itertools.count(1)
WITHIN_MS = 5000


@pytest.fixture
def serial(server: Server) -> str:
    made = f"LIVE-{next(NUMBERS)}"
    server.register(made, marks="DOT-4BA400", water_capacity_kg=21.6, tare_kg=12.4)
    return made


def hook_up(server: Server, serial: str) -> int:
    names = f"urn:dev:mac:{serial.lower()}p", f"urn:dev:mac:{serial.lower()}t"
    server.heard(*names)
    body = {
        "cylinder": serial,
        "pressure_device": names[0],
        "temperature_device": names[1],
        "valve": "vapour",
    }
    return int(server.call("technician", "POST", "/hookups", body)["id"])


def unreloaded(page: Page) -> None:
    """Leave a mark that a reload would wipe away."""
    page.evaluate("window.here = true")


def still_unreloaded(page: Page) -> bool:
    return bool(page.evaluate("window.here === true"))


def test_a_cylinder_settles_and_gets_its_verdict_before_ones_eyes(
    page: Page, server: Server, serial: str
) -> None:
    page.goto(f"{server.url}/cylinders/{serial}")
    unreloaded(page)
    hookup = hook_up(server, serial)
    for state, words in (
        ("waiting", "waiting for readings"),
        ("settling", "settling"),
        ("settled", "settled"),
    ):
        server.live(hookup, state)
        expect(page.locator("#live .now-line")).to_contain_text(words, timeout=WITHIN_MS)
    server.pair(hookup=hookup)
    expect(page.get_by_role("heading", name="Pressure against temperature")).to_be_visible(timeout=WITHIN_MS)
    expect(page.locator(".verdict")).to_contain_text("R-22")
    assert still_unreloaded(page)


def test_a_card_on_the_rack_follows_its_cylinder(page: Page, server: Server, serial: str) -> None:
    page.goto(f"{server.url}/rack?q={serial}")
    unreloaded(page)
    card = page.locator("[data-card]", has_text=serial)
    expect(card).to_contain_text("not hooked up")
    hookup = hook_up(server, serial)
    server.live(hookup, "cooling", temperature_c=31.0)
    expect(card).to_contain_text("cooling", timeout=WITHIN_MS)
    expect(card).to_contain_text("87.8")
    assert still_unreloaded(page)


def test_what_is_being_typed_survives_an_update(page: Page, server: Server, serial: str) -> None:
    hookup = hook_up(server, serial)
    page.goto(f"{server.url}/rack")
    page.fill("#f-q", "half a ser")
    server.live(hookup, "warming")
    card = page.locator("[data-card]", has_text=serial)
    expect(card).to_contain_text("warming", timeout=WITHIN_MS)
    assert page.input_value("#f-q") == "half a ser"
    assert page.evaluate("document.activeElement.id") == "f-q"


def test_the_stream_survives_a_restart_and_misses_nothing(page: Page, server: Server, serial: str) -> None:
    page.goto(f"{server.url}/cylinders/{serial}")
    unreloaded(page)
    server.stop()
    expect(page.locator("#link-state")).to_contain_text("Connection lost", timeout=WITHIN_MS)
    server.start()
    server.pair(cylinder=serial)
    expect(page.locator(".verdict")).to_contain_text("R-22", timeout=30_000)
    expect(page.locator("#link-state")).to_be_hidden(timeout=30_000)
    assert still_unreloaded(page)


def test_where_all_streams_are_taken_the_page_still_follows(page: Page, server: Server, serial: str) -> None:
    page.route("**/stream*", lambda route: route.fulfill(status=503, headers={"Retry-After": "15"}))
    page.goto(f"{server.url}/cylinders/{serial}")
    unreloaded(page)
    hookup = hook_up(server, serial)
    server.live(hookup, "settling")
    expect(page.locator("#live .now-line")).to_contain_text("settling", timeout=15_000)
    expect(page.locator("#link-state")).to_be_hidden()
    assert still_unreloaded(page)


def test_a_filtered_rack_is_left_alone_by_what_it_does_not_show(
    page: Page, server: Server, serial: str
) -> None:
    other = f"OTHER-{serial}"
    server.register(other)
    hookup, hidden = hook_up(server, serial), hook_up(server, other)
    page.goto(f"{server.url}/rack?q={other}")
    unreloaded(page)
    server.live(hookup, "cooling")
    server.live(hidden, "warming")
    expect(page.locator("[data-card]")).to_contain_text("warming", timeout=WITHIN_MS)
    assert page.locator("[data-card]").count() == 1
    assert still_unreloaded(page)


def test_a_cylinder_registered_elsewhere_comes_onto_an_open_rack(page: Page, server: Server) -> None:
    page.goto(f"{server.url}/rack")
    unreloaded(page)
    made = f"NEW-{next(NUMBERS)}"
    server.register(made)
    expect(page.locator("[data-card]", has_text=made)).to_be_attached(timeout=WITHIN_MS)
    assert still_unreloaded(page)


def test_a_rack_goes_on_after_a_restart(page: Page, server: Server, serial: str) -> None:
    hookup = hook_up(server, serial)
    page.goto(f"{server.url}/rack?q={serial}")
    unreloaded(page)
    server.stop()
    expect(page.locator("#link-state")).to_contain_text("Connection lost", timeout=WITHIN_MS)
    server.start()
    card = page.locator("[data-card]", has_text=serial)
    for state in ("cooling", "settling"):
        server.live(hookup, state)
        expect(card).to_contain_text(state, timeout=30_000)
    expect(page.locator("#link-state")).to_be_hidden(timeout=15_000)
    assert still_unreloaded(page)


def test_an_alarm_elsewhere_is_counted_on_every_page(page: Page, server: Server, serial: str) -> None:
    page.goto(f"{server.url}/settings")
    before = page.locator("#alarm-count").text_content() or "0"
    server.pair(cylinder=serial, mass_kg=36.0)  # overfull
    expect(page.locator("#alarm-count")).not_to_have_text(before, timeout=WITHIN_MS)


def test_a_device_that_is_switched_on_shows_up_by_itself(page: Page, server: Server) -> None:
    page.goto(f"{server.url}/devices")
    server.heard("urn:dev:mac:switchedon")
    expect(page.get_by_text("urn:dev:mac:switchedon").first).to_be_visible(timeout=15_000)
