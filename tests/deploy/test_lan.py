"""HTTPS for the phones of a shop: the certificates, their renewal, and what the set-up page serves."""

import plistlib
import ssl
import stat
import threading
from datetime import UTC, datetime, timedelta
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path

import pytest
import requests
from cryptography import x509

from deploy.up.certificates import RENEW_WITHIN, SERVER_FOR, Certificates, ensure, is_private
from deploy.up.lan import Lan, lan_chores, open_lan, reached_at
from deploy.up.phone_page import answers, server
from deploy.up.refusal import StartRefused
from deploy.up.settings import UpSettings, read_settings

NOW = datetime.now(UTC)
NAMES, ADDRESSES = ("shop.local", "localhost"), ("192.168.7.20", "127.0.0.1")


@pytest.fixture
def made(tmp_path: Path) -> Certificates:
    return ensure(tmp_path / "certificates", NAMES, ADDRESSES, NOW)


class Page(BaseHTTPRequestHandler):
    def do_GET(self) -> None:
        self.send_response(200)
        self.end_headers()
        self.wfile.write(b"well")

    def log_message(self, *_: object) -> None:
        pass


def served(pem: Path) -> HTTPServer:
    """A real HTTPS server with the file; stop it with ``shutdown``."""
    found = HTTPServer(("127.0.0.1", 0), Page)
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(pem)
    found.socket = context.wrap_socket(found.socket, server_side=True)
    threading.Thread(target=found.serve_forever, daemon=True).start()
    return found


def test_who_trusts_the_authority_trusts_the_machine_at_every_name_and_address(made: Certificates) -> None:
    running = served(made.server)
    port = running.server_address[1]
    try:
        for host in ("localhost", "127.0.0.1"):
            told = requests.get(f"https://{host}:{port}/", verify=str(made.authority), timeout=10)
            assert told.text == "well"
        with pytest.raises(requests.exceptions.SSLError):
            requests.get(f"https://localhost:{port}/", timeout=10)
    finally:
        running.shutdown()
        running.server_close()


def test_keys_are_their_owners_alone(made: Certificates) -> None:
    folder = made.server.parent
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700
    for file in folder.iterdir():
        assert stat.S_IMODE(file.stat().st_mode) == 0o600, file.name


def test_the_authority_may_vouch_for_the_own_network_alone(tmp_path: Path) -> None:
    """A certificate for a public name, signed with the stolen key, is taken by nobody."""
    made = ensure(tmp_path, ("bank.example", "localhost"), ("127.0.0.1",), NOW)
    running = served(made.server)
    try:
        with pytest.raises(requests.exceptions.SSLError, match="permitted subtree violation"):
            requests.get(
                f"https://localhost:{running.server_address[1]}/", verify=str(made.authority), timeout=10
            )
    finally:
        running.shutdown()
        running.server_close()


@pytest.mark.parametrize(
    ("later", "names", "anew"),
    [
        (timedelta(days=1), NAMES, False),
        (SERVER_FOR - RENEW_WITHIN - timedelta(minutes=1), NAMES, False),
        (SERVER_FOR - RENEW_WITHIN, NAMES, True),
        (timedelta(days=1), ("other.local", *NAMES), True),
    ],
)
def test_it_is_renewed_in_time_and_phones_need_not_be_set_up_again(
    made: Certificates, later: timedelta, names: tuple[str, ...], anew: bool
) -> None:
    before, authority = made.server.read_bytes(), made.authority.read_bytes()
    again = ensure(made.server.parent, names, ADDRESSES, NOW + later)
    assert (again.server.read_bytes() != before) is anew
    assert again.authority.read_bytes() == authority


def test_a_file_cut_short_is_made_anew(made: Certificates) -> None:
    made.server.write_bytes(made.server.read_bytes()[:200])
    ensure(made.server.parent, NAMES, ADDRESSES, NOW)
    assert len(x509.load_pem_x509_certificates(made.server.read_bytes())) == 2


@pytest.mark.parametrize(
    ("address", "private"),
    [("10.1.2.3", True), ("172.31.0.1", True), ("172.32.0.1", False), ("8.8.8.8", False), ("fd00::1", True)],
)
def test_only_private_addresses_are_vouched_for(address: str, private: bool) -> None:
    assert is_private(address) is private


def test_the_set_up_page_serves_the_authority_and_nothing_else(made: Certificates) -> None:
    sent = answers(made.authority.read_bytes(), "https://shop.local:8643", made.fingerprint)
    running = server("127.0.0.1", 0, sent)
    threading.Thread(target=running.serve_forever, daemon=True).start()
    base = f"http://127.0.0.1:{running.server_address[1]}"
    try:
        page = requests.get(f"{base}/", timeout=10).text
        assert made.fingerprint in page
        assert 'href="https://shop.local:8643"' in page
        der = requests.get(f"{base}/heelmark.crt", timeout=10)
        held = x509.load_der_x509_certificate(der.content)
        assert held == x509.load_pem_x509_certificate(made.authority.read_bytes())
        profile = plistlib.loads(requests.get(f"{base}/heelmark.mobileconfig", timeout=10).content)
        assert profile["PayloadContent"][0]["PayloadContent"] == der.content
        for path in ("/authority.key", "/../authority.key", "/server.pem", "/x"):
            assert requests.get(base + path, timeout=10).status_code == 404
    finally:
        running.shutdown()
        running.server_close()


def test_labels_get_an_address_that_phones_reach(tmp_path: Path) -> None:
    settings = UpSettings(data=tmp_path, lan=True, https_port=0, phone_port=0)
    lan = open_lan(settings)
    assert lan.environment["HEELMARK_PUBLIC_URL"] == lan.board
    assert lan.board.startswith("https://")
    assert Path(lan.environment["HEELMARK_CERTIFICATE"]).is_file()
    assert [spec.name for spec in lan.specs(settings, {})] == ["service-https", "phone-page"]
    assert [chore.spec.name for chore in lan_chores(settings, {}, print)] == ["certificate"]


def test_with_a_certificate_of_ones_own_nothing_is_made(tmp_path: Path) -> None:
    given = tmp_path / "own.pem"
    given.touch()
    environ = {"HEELMARK_LAN_CERTIFICATE": str(given), "HEELMARK_LAN_NAME": "board.example.test"}
    settings = read_settings({**environ, "HEELMARK_HTTPS_PORT": "18643"}, demo=False, base=tmp_path, lan=True)
    lan = open_lan(settings)
    assert lan == Lan("https://board.example.test:18643", None, given, None)
    assert [spec.name for spec in lan.specs(settings, {})] == ["service-https"]
    assert lan_chores(settings, {}, print) == []
    assert sorted(tmp_path.iterdir()) == [given]


def test_settings_that_cannot_be_are_refused_by_name(tmp_path: Path) -> None:
    with pytest.raises(StartRefused, match=r"HEELMARK_LAN_CERTIFICATE is 'gone.pem'; expected a file"):
        read_settings({"HEELMARK_LAN_CERTIFICATE": "gone.pem"}, demo=False, base=tmp_path)
    with pytest.raises(StartRefused, match="HEELMARK_HTTP_PORT and HEELMARK_HTTPS_PORT are both 8642"):
        read_settings({"HEELMARK_HTTPS_PORT": "8642"}, demo=False, base=tmp_path, lan=True)


def test_a_name_is_used_where_the_machine_finds_itself_by_it() -> None:
    assert reached_at(("no-such-host.invalid", "localhost"), ("192.168.7.20", "127.0.0.1")) == "192.168.7.20"


def test_a_machine_without_a_network_says_that_no_phone_reaches_it() -> None:
    alone = Lan("https://127.0.0.1:8643", "http://127.0.0.1:8644/", Path("server.pem"), None)
    assert alone.told.startswith("cannot reach it: this machine has no address in a private network")
    shop = Lan("https://10.1.2.3:8643", None, Path("server.pem"), None)
    assert shop.told == "reach it at https://10.1.2.3:8643"
