"""The page of every call is drawn in a browser, from this server alone, and fits a phone."""

from playwright.sync_api import Browser

from tests.browser.server import Server


def test_every_call_is_drawn_and_nobody_else_is_asked(browser: Browser, server: Server) -> None:
    context = browser.new_context(viewport={"width": 360, "height": 740})
    page = context.new_page()
    asked: list[str] = []
    complaints: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.on("console", lambda said: complaints.append(said.text) if said.type == "error" else None)
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.goto(f"{server.url}/help/api")
    page.get_by_role("heading", name="Judge pairs of one cylinder's contents").first.wait_for()
    assert complaints == []
    assert [url for url in asked if not url.startswith((server.url, "data:", "blob:"))] == []
    wide = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
    assert wide <= 0, f"{wide} px wider than the phone"
    context.close()
