"""A phone's browser over HTTPS, against the certificates that the stack makes."""

import subprocess
import sys
import time
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserType
from playwright.sync_api import Error as BrowserError

from deploy.up.certificates import Certificates, ensure
from deploy.up.lan import Lan, answers_https
from deploy.up.settings import UpSettings
from tests.browser.conftest import CHROMIUM, FLAGS
from tests.browser.server import ROOT, Server, free_port


@pytest.fixture(scope="module")
def secure(server: Server, tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, Certificates]]:
    """The process that the stack starts beside the service of loopback, over the same data."""
    folder = tmp_path_factory.mktemp("lan")
    made = ensure(folder / "certificates", ("localhost",), ("127.0.0.1",), datetime.now(UTC))
    settings = UpSettings(data=folder, lan=True, https_port=free_port(), phone_port=free_port())
    spec = Lan("https://localhost", "http://localhost", made.server, made).specs(
        settings, server.environment
    )[0]
    argv = [sys.executable if one == sys.executable else one for one in spec.argv]
    with (folder / "log").open("wb") as log:
        process = subprocess.Popen(argv, env=dict(spec.env), cwd=ROOT, stdout=log, stderr=log)
    try:
        deadline = time.monotonic() + 60
        while not answers_https(settings.https_port, made.authority):
            assert time.monotonic() < deadline, (folder / "log").read_text()
            time.sleep(0.2)
        yield f"https://localhost:{settings.https_port}", made
    finally:
        process.terminate()
        process.wait(timeout=30)


@pytest.fixture(scope="module")
def browsers(
    browser: Browser, secure: tuple[str, Certificates], tmp_path_factory: pytest.TempPathFactory
) -> Iterator[tuple[Browser, Browser]]:
    """A browser of somebody who has put the authority in, as the set-up page says, and one of somebody else."""
    home = tmp_path_factory.mktemp("home")
    store = home / ".pki" / "nssdb"
    store.mkdir(parents=True)
    try:
        subprocess.run(["certutil", "-d", f"sql:{store}", "-N", "--empty-password"], check=True)
    except FileNotFoundError:
        pytest.skip("no certutil (Debian: apt-get install libnss3-tools)")
    authority = str(secure[1].authority)
    subprocess.run(
        ["certutil", "-d", f"sql:{store}", "-A", "-t", "C,,", "-n", "shop", "-i", authority], check=True
    )
    kind = browser.browser_type
    both = opened(kind, home), opened(kind, tmp_path_factory.mktemp("elsewhere"))
    yield both
    for one in both:
        one.close()


def opened(kind: BrowserType, home: Path) -> Browser:
    return kind.launch(
        executable_path=str(CHROMIUM), args=FLAGS, env={"HOME": str(home), "PATH": "/usr/bin:/bin"}
    )


def test_who_trusts_the_authority_signs_in_within_a_secure_context(
    browsers: tuple[Browser, Browser], secure: tuple[str, Certificates], server: Server
) -> None:
    page = browsers[0].new_page()
    page.goto(f"{secure[0]}/sign-in")
    page.fill("#f-login", "sam")
    page.fill("#f-password", server.password("sam"))
    page.click("main button")
    page.wait_for_url(f"{secure[0]}/rack")
    assert page.evaluate("window.isSecureContext && 'serviceWorker' in navigator && !!navigator.mediaDevices")
    kept = {cookie["name"]: cookie for cookie in page.context.cookies()}
    assert kept["heelmark"]["secure"]


def test_who_does_not_trust_it_is_stopped_by_the_browser(
    browsers: tuple[Browser, Browser], secure: tuple[str, Certificates]
) -> None:
    with pytest.raises(BrowserError, match="ERR_CERT_AUTHORITY_INVALID"):
        browsers[1].new_page().goto(f"{secure[0]}/sign-in")
