"""Phones of people who walk out of coverage: what they keep, and how their tests wait."""

from collections.abc import Callable

from playwright.sync_api import Page

from tests.browser.server import Server

STAMPED = {
    "marks": "DOT-4BA400",
    "water_capacity_kg": 21.6,
    "tare_kg": 12.4,
    "requalification_stamp": "06 A123 23",
}
SERIALS = ("OFF-1", "OFF-2", "OFF-3", "OFF-4")
EMPTY = ("VAC-1", "VAC-2", "VAC-3", "VAC-4", "VAC-5")
"""Evacuated and weighed so: what may be filled."""
AHEAD = f"""async () => {{
  const kept = await (await caches.open("pages")).keys();
  return kept.filter((one) => new URL(one.url).pathname.endsWith("/hold")).length >= {len(SERIALS) + len(EMPTY)};
}}"""
ALL = """() => new Promise((done) => {
  const asked = indexedDB.open("heelmark");
  asked.onsuccess = () => {
    const all = asked.result.transaction("entries").objectStore("entries").getAll();
    all.onsuccess = () => { asked.result.close(); done(all.result); };
  };
})"""
NOTHING_WAITS = f"async () => (await ({ALL})()).every((one) => one.reasons)"
Phone = Callable[[], Page]


def until(page: Page, script: str) -> None:
    """Ask again until a promise answers true; ``wait_for_function`` takes the promise itself for an answer."""
    for _ in range(180):
        if page.evaluate(script):
            return
        page.wait_for_timeout(500)
    raise AssertionError(script)


def settled(page: Page, alone: Server) -> None:
    """Nothing waits on the phone any more."""
    page.goto(f"{alone.url}/entries")
    until(page, NOTHING_WAITS)


def look_around(page: Page, server: Server) -> None:
    """See the list with the worker in charge, which then fetches what is on it."""
    page.evaluate("navigator.serviceWorker.ready")
    page.goto(f"{server.url}/rack")
    until(page, AHEAD)


def stock(server: Server) -> None:
    """Put cylinders on the shelf."""
    for serial in SERIALS:
        server.register(serial, **STAMPED)
    for serial in EMPTY:
        server.register(serial, gross_mass_kg=12.4, evacuated=True, **STAMPED)
