"""What a technician's hands and eyes do on a phone, and a supervisor's at the wall, in a real Chromium.

    python -m tests.benchmarks.at_the_cylinder --wall 300 --axe

Taps and page loads of each sequence, heights of pages, where the answer stands, time to first useful paint on a slow
phone (processor four times slower, 1.6 Mbit/s, 150 ms), the wall at 1920 by 1080. Prints a table beside the goals and
writes JSON under tests/benchmarks/out/. A tap is one touch of a button, a link or a field; typing is none.
"""

import argparse
import json
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Locator, Page, expect, sync_playwright
from tqdm import tqdm

from tests.benchmarks.output import output
from tests.browser.conftest import launch, sign_in
from tests.browser.phones import EMPTY, STAMPED, stock
from tests.browser.server import Server, free_port
from tests.browser.visits import CYLINDER, OVERFULL, VISITS, furnish

PHONE = {"width": 390, "height": 844}
WALL = {"width": 1920, "height": 1080}
SLOW = {"offline": False, "latency": 150, "downloadThroughput": 200_000, "uploadThroughput": 94_000}
SLOWER = 4
PAINT = """() => new Promise((done) => new PerformanceObserver((list) => {
  for (const one of list.getEntries()) if (one.name === "first-contentful-paint") done(one.startTime);
}).observe({ type: "paint", buffered: true }))"""
BOTTOM = "(one) => one.getBoundingClientRect().bottom + scrollY"
MODES: dict[str, dict[str, Any]] = {
    "light": {"color_scheme": "light", "viewport": {"width": 1280, "height": 900}},
    "dark": {"color_scheme": "dark", "viewport": {"width": 1280, "height": 900}},
    "360 px": {"viewport": {"width": 360, "height": 740}},
}
GOALS = {
    "cylinder page, answer and next action end at [px]": "844",
    "overfull cylinder, answer and next action end at [px]": "844",
    "unlabelled cylinder of a van [taps]": "5",
    "unlabelled cylinder of a van [loads]": "1",
    "known cylinder, check and record a fill [taps]": "4",
    "answer of a check ends at, in the screen [px]": "844",
    "it leaks, what to do first [taps]": "1",
    "it leaks, first step ends at [px]": "844",
    "first useful paint of a cylinder, slow phone [ms]": "",
    "wall, cylinders on one screen": "300",
    "wall, height of the page [px]": "1080",
}


@dataclass
class Hand:
    """Counts what a hand does."""

    page: Page
    taps: int = 0
    loads: int = 0

    def __post_init__(self) -> None:
        self.page.on("framenavigated", lambda frame: self._loaded(frame.url))

    def _loaded(self, _url: str) -> None:
        self.loads += 1

    def tap(self, target: Locator) -> None:
        target.click()
        self.taps += 1

    def type(self, name: str, text: str) -> None:
        self.tap(self.page.locator(f"#f-{name}"))
        self.page.keyboard.type(text)

    def button(self, name: str) -> None:
        self.tap(self.page.get_by_role("button", name=name, exact=True))


def measure(browser: Browser, server: Server) -> dict[str, float]:
    """Everything on a phone."""
    page = browser.new_context(viewport=PHONE, has_touch=True).new_page()  # type: ignore[arg-type]
    sign_in(page, server, "tess")
    found = {}
    for name, serial in (("cylinder page", CYLINDER), ("overfull cylinder", OVERFULL)):
        page.goto(f"{server.url}/cylinders/{serial}")
        ends = page.locator(".plate-more .task, .plate-more .next").last.evaluate(BOTTOM)
        found[f"{name}, answer and next action end at [px]"] = ends
    found |= _van(page, server) | _fill(page, server) | _leak(page, server)
    found["first useful paint of a cylinder, slow phone [ms]"] = _paint(page, server)
    page.context.close()
    return found


def _van(page: Page, server: Server) -> dict[str, float]:
    """Twenty in a row; the first one says what the others have in common."""
    page.goto(f"{server.url}/register?place=shop&marks=DOT-4BA400&water_capacity=47.6")
    hand = Hand(page)
    for k in range(20):
        hand.type("serial", f"INHERITED-{k}")
        hand.type("tare", "27.3")
        hand.type("mass", f"{35 + k}")
        hand.button("Register, then the next one")
        expect(page.locator("#f-serial")).to_have_value("")
    each = {"taps": hand.taps / 20, "loads": hand.loads / 20}
    return {f"unlabelled cylinder of a van [{name}]": value for name, value in each.items()}


def _fill(page: Page, server: Server) -> dict[str, float]:
    serial = EMPTY[0]
    body = {"cylinder": serial, "direction": "in", "refrigerant": "R-410A", "mass_kg": 1.0}
    server.call("technician", "POST", "/transfers", body)
    page.goto(f"{server.url}/cylinders/{serial}")
    hand = Hand(page)
    hand.tap(page.locator(".plate-more a[href$='/transfer']").first)
    hand.type("mass", "5")
    hand.button("Check first")
    page.wait_for_selector("#check")
    answer = page.locator("#check").evaluate("(one) => one.getBoundingClientRect().bottom")
    hand.button("Record the transfer")
    page.wait_for_url(f"{server.url}/cylinders/{serial}")
    return {
        "known cylinder, check and record a fill [taps]": hand.taps,
        "known cylinder, check and record a fill [loads]": hand.loads,
        "answer of a check ends at, in the screen [px]": answer,
    }


def _leak(page: Page, server: Server) -> dict[str, float]:
    page.goto(f"{server.url}/rack")
    hand = Hand(page)
    hand.tap(page.get_by_role("link", name="It leaks"))
    first = page.locator(".prose ol li").first
    return {
        "it leaks, what to do first [taps]": hand.taps,
        "it leaks, first step ends at [px]": first.evaluate(BOTTOM),
    }


def _paint(page: Page, server: Server) -> float:
    """Median of five, without the phone's store."""
    times = []
    for _ in range(5):
        fresh = page.context.new_page()
        session = page.context.new_cdp_session(fresh)
        session.send("Network.enable")
        session.send("Network.setBypassServiceWorker", {"bypass": True})
        session.send("Network.setCacheDisabled", {"cacheDisabled": True})
        session.send("Network.emulateNetworkConditions", SLOW)
        session.send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
        fresh.goto(f"{server.url}/cylinders/{CYLINDER}")
        times.append(float(fresh.evaluate(PAINT)))
        fresh.close()
    return sorted(times)[2]


def wall(browser: Browser, server: Server, number: int) -> dict[str, float]:
    """A fleet on one screen."""
    present = len(server.call("reader", "GET", "/cylinders?limit=200")["items"])
    for k in tqdm(range(number - present), desc="cylinders"):
        marks = {**STAMPED, "claimed_designation": "R-410A", "gross_mass_kg": 33.0 if k < 3 else 18.0}
        server.register(f"WALL-{k:03}", **marks)
    page = browser.new_page(viewport=WALL)  # type: ignore[arg-type]
    sign_in(page, server)
    page.goto(f"{server.url}/wall")
    found = {
        "wall, cylinders on one screen": page.locator(".tile").count(),
        "wall, height of the page [px]": page.evaluate("document.documentElement.scrollHeight"),
    }
    page.close()
    return found


def axe(browser: Browser, server: Server) -> dict[str, float]:
    """How many faults axe finds on all pages, by mode."""
    found: dict[str, float] = {}
    for mode, given in MODES.items():
        page = browser.new_context(**given).new_page()
        sign_in(page, server, "admin")
        faults = 0
        for visit in tqdm([one for one in VISITS if one.signed_in], desc=mode):
            page.goto(f"{server.url}{visit.path}")
            faults += len(Axe().run(page).response["violations"])
        found[f"faults that axe finds, {mode}"] = faults
        page.context.close()
    return found


def main() -> None:
    """Run, print, write."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--wall", type=int, default=300, help="cylinders on the wall; 0 leaves it out")
    parser.add_argument("--axe", action="store_true", help="axe on every page too")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        settings = {"HEELMARK_REQUEST_LIMIT": "100000 per minute"}
        server = Server(Path(folder), free_port(), settings=settings)
        server.set_up()
        server.start()
        browser = launch(playwright)
        try:
            furnish(server)
            stock(server)
            found = measure(browser, server)
            found |= wall(browser, server, given.wall) if given.wall else {}
            found |= axe(browser, server) if given.axe else {}
        finally:
            browser.close()
            server.stop()
    for name, value in found.items():
        print(f"{name:58s} {value:8.1f}   goal {GOALS.get(name, '')}")
    output("at_the_cylinder.json").write_text(json.dumps(found, indent=1))


if __name__ == "__main__":
    main()
