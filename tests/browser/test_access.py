"""WCAG 2.2 AA by machine (axe-core), 360 px, keyboard alone, and no script at all."""

import re

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import sign_in
from tests.browser.server import Server
from tests.browser.visits import CYLINDER, VISITS, Visit

RULES = {
    "runOnly": {
        "type": "tag",
        "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
    }
}

# Function words that Spanish does not have, nor a refrigerant, a unit or a clause of a law.
ENGLISH = re.compile(
    r"\b(?:the|of|and|with|not|this|that|from|was|were|its|it|by|on|out|what|which|there|until|has|have|been|are|is|to|for|or"
    r"|an|at|read|cannot|may|will)\b",
    re.IGNORECASE,
)
# What somebody typed when the shelf was furnished, and a term of the law that is said in both languages.
TYPED = re.compile(
    "smells burnt; the compressor had failed|Send a sample to the laboratory. Did the compressor burn out[?]"
    "|materials of trade"
)
# The handbook stays English; device names, stamps and messages are shown as they came.
TEXTS = """() => {
  const own = ".stamp, pre, script, style, .prose, nav[aria-label=Manual], datalist, code", said = [];
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walker.nextNode()) {
    const node = walker.currentNode;
    if (!node.parentElement.closest(own)) said.push(node.data.trim());
  }
  for (const name of ["aria-label", "alt", "title", "placeholder"])
    for (const node of document.querySelectorAll(`[${name}]`))
      if (!node.closest(own)) said.push(node.getAttribute(name));
  return said.filter(Boolean);
}"""
ENGLISH_PAGES = ("handbook", "problems")
WITH_AXE = ("rack", "cylinder-overfull", "recovery", "settings")


pytestmark = pytest.mark.usefixtures("furnished")


@pytest.fixture(scope="module", params=["light", "dark"])
def themed(request: pytest.FixtureRequest, browser: Browser, server: Server) -> Page:
    context = browser.new_context(color_scheme=request.param, viewport={"width": 1280, "height": 900})
    page = context.new_page()
    sign_in(page, server, "admin")
    return page


@pytest.fixture(scope="module")
def phone(browser: Browser, server: Server) -> Page:
    context = browser.new_context(viewport={"width": 360, "height": 740}, has_touch=True)
    page = context.new_page()
    sign_in(page, server, "admin")
    return page


@pytest.mark.parametrize("visit", VISITS, ids=lambda v: v.name)
def test_axe_finds_nothing(themed: Page, browser: Browser, server: Server, visit: Visit) -> None:
    page = themed if visit.signed_in else browser.new_page()
    page.goto(f"{server.url}{visit.path}")
    found = Axe().run(page, options=RULES).response["violations"]
    assert [(v["id"], [n["target"] for n in v["nodes"]]) for v in found] == []


@pytest.mark.parametrize("visit", VISITS, ids=lambda v: v.name)
def test_at_360_px_nothing_is_wider_than_the_screen_and_targets_are_large(
    phone: Page, server: Server, visit: Visit
) -> None:
    page = phone
    page.goto(f"{server.url}{visit.path}")
    assert page.evaluate("document.documentElement.scrollWidth") <= 360
    small = page.evaluate(
        """() => [...document.querySelectorAll('button, .button, nav a, select, summary, input[type=text]')]
        .filter((n) => n.checkVisibility() && n.getBoundingClientRect().height < 43)
        .map((n) => n.outerHTML.slice(0, 80))"""
    )
    assert small == []


def test_the_keyboard_alone_reaches_a_cylinder_and_types_a_reading(page: Page, server: Server) -> None:
    page.goto(f"{server.url}/rack?q={CYLINDER}")
    page.keyboard.press("Tab")
    expect(page.get_by_role("link", name="Skip to the content")).to_be_focused()
    page.keyboard.press("Enter")
    tab_to(page, "a[href$='/cylinders/DEMO-1']")
    page.keyboard.press("Enter")
    page.wait_for_url(f"{server.url}/cylinders/DEMO-1")
    tab_to(page, "a[href$='/reading']")
    page.keyboard.press("Enter")
    page.wait_for_url(f"{server.url}/cylinders/DEMO-1/reading")
    tab_to(page, "#f-temperature")
    page.keyboard.type("76.6")
    page.keyboard.press("Tab")
    page.keyboard.type("136.8")
    page.keyboard.press("Enter")
    page.wait_for_url(f"{server.url}/cylinders/DEMO-1")
    expect(page.locator("p.notice")).to_contain_text("recorded")


def tab_to(page: Page, selector: str) -> None:
    """Press Tab until the element has the focus, and see that it shows."""
    for _ in range(80):
        page.keyboard.press("Tab")
        if page.evaluate("(s) => document.activeElement.matches(s)", selector):
            shown = "(n) => getComputedStyle(n.closest('.card') ?? n).outlineStyle !== 'none'"
            assert page.locator(selector).evaluate(shown)
            return
    raise AssertionError(f"Tab never reached {selector}")


def test_everything_works_without_script(browser: Browser, server: Server) -> None:
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    sign_in(page, server, "tess")
    server.register("NO-SCRIPT")
    page.goto(f"{server.url}/cylinders/NO-SCRIPT/reading")
    page.fill("#f-temperature", "76.6")
    page.fill("#f-pressure", "136.8")
    page.get_by_role("button", name="Record the reading").click()
    expect(page.locator(".verdict")).to_contain_text("R-22")
    expect(page.locator("svg.chart").first).to_be_visible()
    context.close()


def test_in_spanish_every_page_fits_and_no_english_is_left(browser: Browser, server: Server) -> None:
    page = browser.new_context(
        viewport={"width": 360, "height": 740}, has_touch=True, locale="es-MX"
    ).new_page()
    sign_in(page, server, "admin")
    speak(page, server, "es")
    try:
        found = {
            visit.name: seen(page, server, visit)
            for visit in VISITS
            if not visit.name.startswith(ENGLISH_PAGES)
        }
    finally:
        speak(page, server, "en")
    assert {name: faults for name, faults in found.items() if faults} == {}


def speak(page: Page, server: Server, language: str) -> None:
    page.goto(f"{server.url}/settings")
    page.check(f"input[name=language][value={language}]")
    page.locator("form.work button").first.click()
    page.wait_for_selector(f"html[lang={language}]")


def seen(page: Page, server: Server, visit: Visit) -> list[object]:
    """What is wrong with a page: wider than the phone, English, or a fault that axe finds on some of them."""
    page.goto(f"{server.url}{visit.path}")
    faults: list[object] = ["too wide"] if page.evaluate("document.documentElement.scrollWidth") > 360 else []
    faults += [text for text in page.evaluate(TEXTS) if ENGLISH.search(TYPED.sub("", text))]
    if visit.name in WITH_AXE:
        violations = Axe().run(page, options=RULES).response["violations"]
        faults += [(one["id"], [n["target"] for n in one["nodes"]]) for one in violations]
    return faults
