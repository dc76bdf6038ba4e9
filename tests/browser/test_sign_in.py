import re

import requests
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import sign_in
from tests.browser.server import PASSWORD, Server


def test_a_visitor_is_asked_to_sign_in_and_then_gets_where_they_wanted(
    browser: Browser, server: Server
) -> None:
    page = browser.new_page()
    page.goto(f"{server.url}/devices")
    expect(page).to_have_title("Sign in · Heelmark")
    page.fill("#f-login", "tess")
    page.fill("#f-password", PASSWORD)
    page.keyboard.press("Enter")
    expect(page).to_have_url(f"{server.url}/devices")
    page.close()


def test_a_wrong_password_says_so_and_does_not_say_whether_the_name_exists(
    browser: Browser, server: Server
) -> None:
    page = browser.new_page()
    told = []
    for login in ("tess", "nobody-of-that-name"):
        page.goto(f"{server.url}/sign-in")
        page.fill("#f-login", login)
        page.fill("#f-password", "wrong")
        page.click("main button")
        told.append(page.inner_text("#complaints"))
    assert told[0] == told[1]
    assert "do not belong together" in told[0]
    page.close()


def test_signing_out_ends_the_session(page: Page, server: Server) -> None:
    page.get_by_role("button", name="Sign out").click()
    page.goto(f"{server.url}/rack")
    expect(page).to_have_url(re.compile("/sign-in"))


def test_signing_in_never_leads_away_from_the_board(browser: Browser, server: Server) -> None:
    for target in ("https://elsewhere.example/", "//elsewhere.example", "/\\elsewhere.example"):
        page = browser.new_page()
        page.goto(f"{server.url}/sign-in?next={target}")
        page.fill("#f-login", "tess")
        page.fill("#f-password", PASSWORD)
        page.click("main button")
        expect(page).to_have_url(f"{server.url}/start")
        page.close()


def test_the_cookie_is_out_of_reach_of_scripts_and_other_sites(page: Page) -> None:
    (cookie,) = [c for c in page.context.cookies() if c["name"] == "heelmark"]
    assert cookie["httpOnly"]
    assert cookie["sameSite"] == "Strict"


def test_no_script_but_our_own_may_run(server: Server) -> None:
    policy = requests.get(f"{server.url}/sign-in", timeout=10).headers["Content-Security-Policy"]
    assert "script-src 'self'" in policy
    assert "unsafe" not in policy
    assert "frame-ancestors 'none'" in policy


def test_a_technician_may_look_at_everything(browser: Browser, server: Server) -> None:
    page = browser.new_page()
    sign_in(page, server, "tess")
    for path in ("/rack", "/alarms", "/devices", "/settings"):
        assert page.goto(f"{server.url}{path}").status == 200  # type: ignore[union-attr]
    page.close()
