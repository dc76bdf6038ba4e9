"""Real browser, real service process. Skipped by name where there is no Chromium."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, Playwright, sync_playwright

from tests.browser.phones import Phone, look_around, stock
from tests.browser.server import Server, free_port
from tests.browser.visits import furnish

CHROMIUM = Path("/usr/bin/chromium")
FLAGS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--enable-features=WebBluetooth",  # on Linux it is off unless it is asked for
]


def launch(playwright: Playwright) -> Browser:
    return playwright.chromium.launch(executable_path=str(CHROMIUM), args=FLAGS)


def sign_in(page: Page, server: Server, login: str = "sam") -> None:
    page.goto(f"{server.url}/sign-in")
    page.fill("#f-login", login)
    page.fill("#f-password", server.password(login))
    page.click("main button")
    page.wait_for_url(lambda url: url in (f"{server.url}/rack", f"{server.url}/start"))


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    if not CHROMIUM.exists():
        pytest.skip("no Chromium at /usr/bin/chromium (Debian: apt-get install chromium)")
    with sync_playwright() as playwright:
        opened = launch(playwright)
        yield opened
        opened.close()


@pytest.fixture(scope="session")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    made = Server(tmp_path_factory.mktemp("board"), free_port())
    made.set_up()
    made.start()
    yield made
    made.stop()


@pytest.fixture(scope="session")
def furnished(server: Server) -> Server:
    """The board with a cylinder in every state that its pages draw."""
    furnish(server)
    return server


@pytest.fixture
def technician_page(browser: Browser, server: Server) -> Iterator[Page]:
    """A signed-in technician's phone; what its script complains about fails the test."""
    context = browser.new_context(viewport={"width": 390, "height": 844}, has_touch=True)
    opened = context.new_page()
    complaints: list[str] = []
    opened.on("pageerror", lambda error: complaints.append(str(error)))
    sign_in(opened, server, "tess")
    yield opened
    context.close()
    assert complaints == []


@pytest.fixture
def page(browser: Browser, server: Server) -> Iterator[Page]:
    """A signed-in supervisor's page; what its script complains about fails the test."""
    context = browser.new_context(viewport={"width": 1280, "height": 900})
    opened = context.new_page()
    complaints: list[str] = []
    opened.on("pageerror", lambda error: complaints.append(str(error)))
    sign_in(opened, server)
    yield opened
    context.close()
    assert complaints == []


@pytest.fixture(scope="module")
def alone(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """A service of a module's own: its tests stop it and start it again."""
    made = Server(tmp_path_factory.mktemp("offline"), free_port())
    made.set_up()
    made.start()
    stock(made)
    yield made
    made.stop()


@pytest.fixture
def phone(browser: Browser, alone: Server) -> Iterator[Phone]:
    """Makes a phone that is signed in and has seen the list."""
    if alone.process is None:
        alone.start()
    contexts: list[BrowserContext] = []

    def made() -> Page:
        contexts.append(browser.new_context(viewport={"width": 390, "height": 844}))
        page = contexts[-1].new_page()
        sign_in(page, alone, "tess")
        look_around(page, alone)
        return page

    yield made
    for context in contexts:
        context.close()


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Everything here drives a real browser."""
    for item in items:
        if Path(__file__).parent in item.path.parents:
            item.add_marker(pytest.mark.browser)
