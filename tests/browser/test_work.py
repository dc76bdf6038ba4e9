"""The work at a cylinder, as a technician's hands do it in a browser."""

import itertools
import re

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import sign_in
from tests.browser.server import Server

NUMBERS = itertools.count(1)
STAMPED = {
    "marks": "DOT-4BA400",
    "water_capacity_kg": 21.6,
    "tare_kg": 12.4,
    "gross_mass_kg": 12.4,
    "requalification_stamp": "06 A123 23",
}


@pytest.fixture
def serial(server: Server) -> str:
    made = f"WORK-{next(NUMBERS)}"
    server.register(made, **STAMPED)
    return made


def evacuate_and_inspect(page: Page, server: Server, serial: str) -> None:
    page.goto(f"{server.url}/cylinders/{serial}/care")
    page.fill("#f-microns", "400")
    page.get_by_role("button", name="Record the evacuation").click()
    page.wait_for_url(f"{server.url}/cylinders/{serial}")
    page.goto(f"{server.url}/cylinders/{serial}/care")
    page.get_by_label("sound: no dents").check()
    page.get_by_role("button", name="Record the inspection").click()
    page.wait_for_url(f"{server.url}/cylinders/{serial}")


def recover(page: Page, server: Server, serial: str, refrigerant: str, pounds: str) -> None:
    page.goto(f"{server.url}/cylinders/{serial}/transfer")
    page.fill("#f-designation", refrigerant)
    page.fill("#f-mass", pounds)
    page.fill("#f-appliance", "RTU-4")
    page.get_by_role("button", name="Check first").click()


def test_devices_are_hooked_up_and_the_page_follows_them(page: Page, server: Server, serial: str) -> None:
    names = [f"urn:dev:mac:{serial.lower()}{kind}" for kind in ("p", "t")]
    server.heard(*names)
    page.goto(f"{server.url}/cylinders/{serial}")
    page.get_by_role("link", name="Hook up devices").click()
    expect(page.locator("#f-cylinder")).to_have_value(serial)
    page.select_option("#f-pressure_device", names[0])
    page.select_option("#f-temperature_device", names[1])
    page.get_by_label("vapor").check()
    page.get_by_role("button", name="Hook up").click()
    expect(page).to_have_url(f"{server.url}/cylinders/{serial}")
    expect(page.locator("#live")).to_contain_text("waiting for readings")
    expect(page.locator("#live")).to_contain_text("vapor valve")


def test_a_transfer_is_checked_recorded_and_a_wrong_one_refused(
    page: Page, server: Server, serial: str
) -> None:
    evacuate_and_inspect(page, server, serial)
    recover(page, server, serial, "R-410A", "10")
    expect(page.locator("#check")).to_contain_text("No objections")
    page.get_by_role("button", name="Record the transfer").click()
    expect(page.locator("p.notice")).to_contain_text("recorded")
    recover(page, server, serial, "R-22", "5")
    refusal = page.locator("#check")
    expect(refusal).to_contain_text("Not allowed")
    expect(refusal).to_contain_text("R-410A")
    expect(page.get_by_role("button", name="Record the transfer")).to_have_count(0)


def test_a_hold_stops_the_work_until_a_supervisor_releases_it(
    page: Page, browser: Browser, server: Server, serial: str
) -> None:
    evacuate_and_inspect(page, server, serial)
    other = browser.new_page()
    sign_in(other, server, "tess")
    other.goto(f"{server.url}/cylinders/{serial}/hold")
    other.fill("#f-reason", "smells burnt")
    other.get_by_role("button", name="Put on hold").click()
    other.wait_for_url(f"{server.url}/cylinders/{serial}")
    recover(other, server, serial, "R-410A", "10")
    expect(other.locator("#check")).to_contain_text("Smells burnt")
    page.goto(f"{server.url}/cylinders/{serial}/hold")
    page.fill("#f-release_reason", "it was the shop next door")
    page.get_by_role("button", name="Release this hold").click()
    recover(other, server, serial, "R-410A", "10")
    expect(other.locator("#check")).to_contain_text("No objections")
    other.close()


def test_the_label_comes_as_a_pdf(page: Page, server: Server, serial: str) -> None:
    page.goto(f"{server.url}/cylinders/{serial}")
    path = page.get_by_role("link", name=re.compile("^Label, 62")).get_attribute("href")
    answer = page.request.get(f"{server.url}{path}")
    assert answer.headers["content-type"] == "application/pdf"
    assert answer.body().startswith(b"%PDF")
    picture = page.locator("img.label")
    picture.scroll_into_view_if_needed()
    expect(picture).to_be_visible()
    page.wait_for_function("document.querySelector('img.label').naturalWidth > 0")


CAMERA = """
window.BarcodeDetector = class {
  async detect() { return [{ rawValue: "https://board.example/cylinders/WORK%2042" }]; }
};
Object.defineProperty(navigator, "mediaDevices", { value: {
  getUserMedia: async () => document.createElement("canvas").captureStream(),
} });
"""


def test_the_label_is_scanned_where_the_browser_can(browser: Browser, server: Server) -> None:
    page = browser.new_page()
    page.add_init_script(CAMERA)
    sign_in(page, server, "tess")
    page.goto(f"{server.url}/hook-up")
    page.get_by_role("button", name="Scan the label").click()
    expect(page.locator("#f-cylinder")).to_have_value("WORK 42")
    expect(page.locator("#scan-view")).to_be_hidden()
    page.close()


def test_where_it_cannot_the_serial_is_typed(page: Page, server: Server) -> None:
    page.goto(f"{server.url}/hook-up")
    has = page.evaluate("'BarcodeDetector' in window")
    expect(page.get_by_role("button", name="Scan the label")).to_have_count(1 if has else 0)
    expect(page.locator("#f-cylinder")).to_be_visible()
