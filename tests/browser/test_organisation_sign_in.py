"""There and back again in a real browser: the provider is another site, so the strict cookie is put to the test."""

from pathlib import Path

from playwright.sync_api import Browser, expect

from tests.browser.server import Server
from tests.support.openid_provider import CLIENT_ID, CLIENT_SECRET, openid_provider


def test_signing_in_with_the_organisation_ends_on_the_rack(
    browser: Browser, server: Server, tmp_path: Path
) -> None:
    secret = tmp_path / "client-secret"
    secret.write_text(CLIENT_SECRET)
    with openid_provider() as provider:
        # Another site than the service's 127.0.0.1, as a browser counts sites.
        provider.issuer = provider.issuer.replace("127.0.0.1", "localhost")
        server.command(
            *("identity-provider", "set", "--issuer", provider.issuer, "--client-id", CLIENT_ID),
            *("--client-secret-file", str(secret), "--newcomers-become", "technician"),
        )
        page = browser.new_page()
        page.goto(f"{server.url}/sign-in")
        page.get_by_role("link", name="Sign in with your organisation").click()
        page.wait_for_url(f"{server.url}/start")
        expect(page.get_by_text("Rosa Muster")).to_be_visible()
        page.close()
        server.command("identity-provider", "remove")
