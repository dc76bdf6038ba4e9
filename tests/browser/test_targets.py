"""
Hands in gloves: on a phone of 390 x 844 every control of a technician's sequences is 56 px high and wide, or more.

Measured is what a finger can hit: a checkbox with its label, a card's link with the card that it covers. A link
within the text of a paragraph is exempt only where the same address is a control of 56 px on the same page. The link
that skips to the content is of no size until the keyboard reaches it, and no finger can.
"""

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page

from tests.browser.conftest import sign_in
from tests.browser.server import Server
from tests.browser.visits import CYLINDER, HELD, OVERFULL, UNKNOWN

LEAST_PX = 56
TRANSFER = f"/cylinders/{CYLINDER}/transfer"
SEQUENCES = {
    "start": ("/start",),
    "take-out": ("/recoveries/new", "/recoveries", "/recoveries/1"),
    "fill": (
        f"/cylinders/{CYLINDER}/fill", TRANSFER,
        f"{TRANSFER}?direction=in&designation=R-22&mass=2&phase=liquid&step=check",
    ),
    "find-out": (
        "/hook-up", f"/cylinders/{CYLINDER}", f"/cylinders/{UNKNOWN}", f"/cylinders/{UNKNOWN}/reading", "/try",
    ),
    "van": ("/register", f"/cylinders/{CYLINDER}/weight", f"/cylinders/{CYLINDER}/marks", "/rack"),
    "hand-over": ("/hand-over", f"/cylinders/{CYLINDER}/exchange", "/help/hand-over"),
    "leak": ("/help/leak", f"/cylinders/{OVERFULL}", "/alarms"),
    "aside": (f"/cylinders/{HELD}/hold", f"/cylinders/{HELD}", f"/cylinders/{HELD}/care", "/entries", "/settings"),
}  # fmt: skip
SMALL = """(least) => {
  for (const one of document.querySelectorAll("details")) one.open = true;
  const shown = (n) => n.checkVisibility({ visibilityProperty: true }) && !n.closest(".unseen, .skip");
  const hit = (n) => {
    const label = n.matches("[type=checkbox], [type=radio]") && n.closest("label");
    const after = getComputedStyle(n, "::after");
    const covers = after.position === "absolute" && after.content !== "none" && n.offsetParent;
    return (label || covers || n).getBoundingClientRect();
  };
  const large = (n) => { const { width, height } = hit(n); return width >= least - 0.5 && height >= least - 0.5; };
  const kinds = "a[href], button, input:not([type=hidden]), select, textarea, summary";
  const controls = [...document.querySelectorAll(kinds)].filter(shown);
  const there = new Set(controls.filter((n) => n.href && large(n)).map((n) => n.href.split("#")[0]));
  const text = (n) => n.textContent.trim();
  const within = (n) => n.matches("p a, li a, td a") && text(n.closest("p, li, td")) !== text(n);
  const wrong = controls.filter((n) => !large(n) && !(within(n) && there.has(n.href?.split("#")[0])));
  return [controls.length, wrong.map((n) => {
    const { width, height } = hit(n);
    return `${Math.round(width)} x ${Math.round(height)} ${n.outerHTML.replace(/\\s+/g, " ").slice(0, 110)}`;
  })];
}"""


@pytest.fixture(scope="module")
def gloved(browser: Browser, furnished: Server) -> Iterator[Page]:
    """A technician's phone over a furnished shelf."""
    context = browser.new_context(viewport={"width": 390, "height": 844}, has_touch=True)
    page = context.new_page()
    sign_in(page, furnished, "tess")
    yield page
    context.close()


@pytest.mark.parametrize("sequence", SEQUENCES)
def test_every_control_of_a_sequence_can_be_hit_with_gloves_on(
    gloved: Page, server: Server, sequence: str
) -> None:
    for path in SEQUENCES[sequence]:
        answer = gloved.goto(f"{server.url}{path}")
        assert answer is not None and answer.ok, path
        number, small = gloved.evaluate(SMALL, LEAST_PX)
        assert number >= 8, path
        assert small == [], path
        assert gloved.evaluate("document.documentElement.scrollWidth") <= 390, path


def test_a_small_control_would_be_seen(gloved: Page, server: Server) -> None:
    gloved.goto(f"{server.url}/start")
    gloved.evaluate("document.querySelector('main').insertAdjacentHTML('beforeend', '<a href=\"/x\">x</a>')")
    assert len(gloved.evaluate(SMALL, LEAST_PX)[1]) == 1
