"""The proxy's configuration, judged by nginx itself and by requests through it."""

import http.server
import shutil
import socket
import ssl
import subprocess
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
import requests

from tests.deploy.certificates import make_certificates
from tests.support.waiting import until

CONFIGURATION = Path(__file__).parents[2] / "deploy" / "proxy" / "nginx.conf"
NGINX = shutil.which("nginx", path="/usr/sbin:/usr/bin:/usr/local/sbin:/usr/local/bin")

pytestmark = pytest.mark.skipif(NGINX is None, reason="no nginx on this machine")


class Echo(http.server.BaseHTTPRequestHandler):
    """Answers with the headers that arrived."""

    def do_GET(self) -> None:
        body = "\n".join(f"{name}: {value}" for name, value in self.headers.items()).encode()
        self.send_response(200)
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)

    def do_POST(self) -> None:
        self.rfile.read(int(self.headers["Content-Length"]))
        self.do_GET()

    def log_message(self, *_: object) -> None:
        pass


def free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as server:
        return server.getsockname()[1]


def configuration(folder: Path, port: int, backend: str) -> Path:
    """The configuration for a proxy of our own in `folder`, whose certificates are there."""
    text = CONFIGURATION.read_text()
    for old, new in {
        "/tmp/": f"{folder}/",
        "server service:8642": f"server {backend}",
        "listen 8443": f"listen 127.0.0.1:{port}",
        "listen 8080": f"listen 127.0.0.1:{free_port()}",
        "/etc/heelmark/tls": str(folder),
    }.items():
        assert old in text, old
        text = text.replace(old, new)
    made = folder / "nginx.conf"
    made.write_text(text)
    return made


@pytest.fixture(scope="module")
def proxy(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, Path]]:
    folder = tmp_path_factory.mktemp("proxy")
    make_certificates(folder, "localhost")
    backend = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Echo)
    threading.Thread(target=backend.serve_forever, daemon=True).start()
    port = free_port()
    made = configuration(folder, port, f"127.0.0.1:{backend.server_port}")
    command = [str(NGINX), "-c", str(made), "-p", str(folder), "-e", "/dev/stderr"]
    checked = subprocess.run([*command, "-t"], capture_output=True, text=True)
    assert checked.returncode == 0, checked.stderr
    process = subprocess.Popen(
        [*command, "-g", "daemon off;"], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    for _ in range(200):
        with socket.socket() as probe:
            if probe.connect_ex(("127.0.0.1", port)) == 0:
                break
        time.sleep(0.02)
    yield f"https://localhost:{port}", folder / "ca.crt"
    process.terminate()
    process.wait(10)
    backend.shutdown()
    backend.server_close()


def test_what_a_client_claims_about_itself_is_replaced(proxy: tuple[str, Path]) -> None:
    url, authority = proxy
    claimed = {"X-Forwarded-For": "203.0.113.9", "X-Request-ID": "forged", "X-Forwarded-Proto": "http"}
    seen = requests.get(f"{url}/", headers=claimed, verify=str(authority), timeout=10).text
    assert "203.0.113.9" not in seen
    assert "forged" not in seen
    assert "X-Forwarded-Proto: https" in seen


def test_a_large_body_ends_at_the_proxy_except_for_imports(proxy: tuple[str, Path]) -> None:
    url, authority = proxy
    body = b"x" * 2_000_000
    assert (
        requests.post(f"{url}/api/v1/cylinders", body, verify=str(authority), timeout=10).status_code == 413
    )
    assert requests.post(f"{url}/api/v1/imports", body, verify=str(authority), timeout=10).status_code == 200


def test_metrics_stay_inside_and_transport_security_is_announced(proxy: tuple[str, Path]) -> None:
    url, authority = proxy
    answer = requests.get(f"{url}/metrics", verify=str(authority), timeout=10)
    assert answer.status_code == 404
    assert "max-age=63072000" in answer.headers["Strict-Transport-Security"]
    assert answer.headers["Server"] == "nginx"


def test_guessing_passwords_is_slowed_down(proxy: tuple[str, Path]) -> None:
    url, authority = proxy
    with requests.Session() as session:
        attempts = (session.post(f"{url}/sign-in", b"", verify=str(authority), timeout=10) for _ in range(20))
        statuses = [attempt.status_code for attempt in attempts]
    assert statuses.count(429) >= 5


def test_old_tls_is_refused(proxy: tuple[str, Path]) -> None:
    port = int(proxy[0].rpartition(":")[2])
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    context.check_hostname = False
    context.verify_mode = ssl.CERT_NONE
    context.set_ciphers("ALL:@SECLEVEL=0")
    with pytest.warns(DeprecationWarning):
        context.minimum_version = context.maximum_version = ssl.TLSVersion.TLSv1_1
    with socket.create_connection(("127.0.0.1", port)) as plain, pytest.raises(ssl.SSLError):
        context.wrap_socket(plain)


class Named(http.server.BaseHTTPRequestHandler):
    """Answers with its own address."""

    def do_GET(self) -> None:
        body = str(self.server.server_address[0]).encode()
        self.send_response(200)
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)

    def log_message(self, *_: object) -> None:
        pass


@pytest.fixture
def two_services() -> Iterator[int]:
    """Two of them behind one port, at 127.0.0.1 and 127.0.0.2."""
    port = free_port()
    servers = [http.server.ThreadingHTTPServer((f"127.0.0.{n}", port), Named) for n in (1, 2)]
    for server in servers:
        threading.Thread(target=server.serve_forever, daemon=True).start()
    yield port
    for server in servers:
        server.shutdown()
        server.server_close()


def test_in_a_container_it_follows_the_service_to_another_address_and_takes_a_new_certificate(
    tmp_path: Path, two_services: int
) -> None:
    make_certificates(tmp_path, "localhost")
    port, looked_up = free_port(), tmp_path / "address"
    made = configuration(tmp_path, port, f"127.0.0.1:{two_services}")
    script = (CONFIGURATION.parent / "serve.sh").read_text()
    for old, new in (
        ("nginx -c /etc/nginx/nginx.conf", f"{NGINX} -p {tmp_path} -e /dev/null -c {made}"),
        ("getent hosts service", f"cat {looked_up}"),
        ("/etc/heelmark/tls", str(tmp_path)),
    ):
        assert old in script, old
        script = script.replace(old, new)
    looked_up.write_text("127.0.0.1 service")
    serving = subprocess.Popen(["sh", "-c", script], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)

    def answers() -> str:
        try:
            return requests.get(f"https://localhost:{port}/", verify=str(tmp_path / "ca.crt"), timeout=5).text
        except requests.RequestException:
            return ""

    try:
        until(lambda: answers() == "127.0.0.1")
        # nginx itself would ask for the name again, of which this test has none.
        made.write_text(made.read_text().replace("server 127.0.0.1:", "server 127.0.0.2:"))
        looked_up.write_text("127.0.0.2 service")
        until(lambda: answers() == "127.0.0.2")
        before = ssl.get_server_certificate(("localhost", port))
        make_certificates(tmp_path, "localhost")
        until(lambda: ssl.get_server_certificate(("localhost", port)) != before)
    finally:
        serving.terminate()
        assert serving.wait(30) == 0
