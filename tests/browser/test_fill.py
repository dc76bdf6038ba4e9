"""Check, fill to this gross weight, closed: on a phone over a live scale, without typing a weight."""

import re
from collections.abc import Callable
from datetime import UTC, datetime

import pytest
from playwright.sync_api import Browser, Page, expect

from service.units import kg_from_lb
from tests.browser.conftest import sign_in
from tests.browser.phones import STAMPED
from tests.browser.server import Server
from tests.support.live_batches import following, with_state

SERIAL, DEVICE = "SCALE-1", "urn:dev:mac:0024befffe8051a1"
TARE_KG = 12.4
PHONE = {"width": 390, "height": 844}


@pytest.fixture(scope="module")
def weighs(server: Server) -> Callable[[float], None]:
    """The worker's own snapshot of a set with a scale that shows so much [kg]."""
    server.register(SERIAL, gross_mass_kg=TARE_KG, evacuated=True, **STAMPED)
    server.heard(DEVICE)
    body = {"cylinder": SERIAL, "pressure_device": DEVICE, "temperature_device": DEVICE, "valve": "liquid"}
    hookup = server.call("technician", "POST", "/hookups", body)["id"]

    def say(gross_kg: float) -> None:
        told = server.call("reader", "GET", f"/hookups/{hookup}")
        batch = following(told, datetime.now(UTC), seconds=120.0, values={"mass": ("kg", gross_kg)})
        said = [with_state(batch["hookups"][0], "settled")]
        server.call("worker", "PUT", "/live", {**batch, "hookups": said})

    return say


def check(technician_page: Page, server: Server) -> None:
    """Tap the fill on the cylinder's page, say what goes in, tap the check."""
    technician_page.goto(f"{server.url}/cylinders/{SERIAL}")
    technician_page.locator("a[href$='/fill']").first.tap()
    expect(technician_page.locator(".on-scale")).to_contain_text("27.3")
    technician_page.fill("#f-designation", "R-410A")
    technician_page.get_by_role("button", name="Check, valve closed").tap()
    expect(technician_page.locator(".call h1")).to_contain_text("Keep going")


def test_the_technician_only_confirms(
    technician_page: Page, browser: Browser, server: Server, weighs: Callable[[float], None]
) -> None:
    weighs(TARE_KG)
    check(technician_page, server)
    stop_at = technician_page.locator(".stop-at b")
    kg = kg_from_lb(float(re.findall(r"[\d.]+", stop_at.inner_text())[0]))
    size = "(one) => parseFloat(getComputedStyle(one).fontSize)"
    assert stop_at.evaluate(size) >= 50
    button = technician_page.get_by_role("button", name="Closed: record the fill")
    box = button.bounding_box()
    assert box is not None and box["y"] + box["height"] <= PHONE["height"], (
        "one screen, the next action on it"
    )
    weighs(TARE_KG + 3.0)  # no tap: the page counts by itself
    expect(technician_page.locator(".call .seen")).to_contain_text("6.6\u202flb in it so far", timeout=15_000)
    assert 0 < int(technician_page.locator("meter").get_attribute("value") or 0) < 100
    technician_page.reload()
    expect(technician_page.locator(".call .seen")).to_contain_text("6.6\u202flb in it so far")
    weighs(kg + 0.05)
    expect(technician_page.locator(".call h1")).to_contain_text("STOP", timeout=15_000)
    second = browser.new_context(viewport=PHONE)  # type: ignore[arg-type]
    other = second.new_page()
    sign_in(other, server, "tess")
    other.goto(f"{server.url}/cylinders/{SERIAL}/fill")
    expect(other.locator(".call h1")).to_contain_text("STOP")
    second.close()
    button.tap()
    technician_page.wait_for_url(f"{server.url}/cylinders/{SERIAL}")
    (taken,) = server.call("reader", "GET", f"/transfers?cylinder={SERIAL}")["items"]
    assert taken["mass_kg"] == pytest.approx(kg + 0.05 - TARE_KG, abs=0.01)
    technician_page.go_back()
    technician_page.reload()
    expect(technician_page.locator(".call")).to_have_count(0)  # done once: going back records nothing again
