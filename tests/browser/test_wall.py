"""Three hundred cylinders on one screen of 1920 by 1080: nothing scrolls, and danger is read from three meters."""

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page

from tests.browser.conftest import sign_in
from tests.browser.phones import STAMPED
from tests.browser.server import Server, free_port

PLACES = ("shop", "yard", *(f"van-{k}" for k in range(1, 9)))
SMALLEST_PX = """() => Math.min(...[...document.querySelectorAll("#page *")]
  .filter((one) => [...one.childNodes].some((node) => node.nodeType === 3 && node.data.trim()) && one.checkVisibility()
    && !one.classList.contains("unseen"))
  .map((one) => parseFloat(getComputedStyle(one).fontSize)))"""


@pytest.fixture(scope="module")
def full(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """A fleet: three dangers, many overdue, most of it quiet."""
    made = Server(
        tmp_path_factory.mktemp("wall"), free_port(), settings={"HEELMARK_REQUEST_LIMIT": "100000 per minute"}
    )
    made.set_up()
    made.start()
    for place in PLACES[1:]:
        made.call("technician", "POST", "/places", {"name": place, "kind": "van", "elevation_m": 0.0})
    for k in range(300):
        gross = 33.0 if k < 3 else 18.0
        stamp = "06 A123 12" if 3 <= k < 90 else "06 A123 25"
        known = {
            **STAMPED,
            "requalification_stamp": stamp,
            "claimed_designation": "R-410A",
            "gross_mass_kg": gross,
        }
        made.call(
            "technician", "POST", "/cylinders", {"serial": f"W-{k:03}", "place": PLACES[k % 10], **known}
        )
    yield made
    made.stop()


def test_all_of_them_are_on_the_screen(browser: Browser, full: Server) -> None:
    page: Page = browser.new_page(viewport={"width": 1920, "height": 1080})
    sign_in(page, full)
    page.goto(f"{full.url}/wall")
    assert page.locator(".tile").count() == 300
    assert page.evaluate("document.documentElement.scrollHeight") <= 1080
    assert page.evaluate("document.documentElement.scrollWidth") <= 1920
    assert page.locator(".tile.grows").count() == 3
    assert page.evaluate(SMALLEST_PX) >= 22
    page.close()
