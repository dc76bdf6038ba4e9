"""The fleet's broker configuration, run by Mosquitto with a certificate and two users."""

import shutil
import socket
import ssl
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path

import paho.mqtt.client as mqtt
import pytest

from service.outbound import broker_access
from tests.deploy.certificates import make_certificates

CONFIGURATION = Path(__file__).parents[2] / "deploy" / "broker" / "mosquitto.conf"
MOSQUITTO = shutil.which("mosquitto", path="/usr/sbin:/usr/bin:/usr/local/sbin:/usr/local/bin")

pytestmark = [
    pytest.mark.broker,
    pytest.mark.skipif(MOSQUITTO is None, reason="no mosquitto on this machine"),
]


@pytest.fixture(scope="module")
def broker(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[int, Path]]:
    folder = tmp_path_factory.mktemp("broker")
    make_certificates(folder, "localhost")
    users = [
        broker_access.worker_user("heelmark", "worker", broker_access.hash_password("w", b"twelve bytes")),
        broker_access.device_user(
            "heelmark", "van-7", "gauge-1", "device-1", broker_access.hash_password("d", b"twelve bytes")
        ),
    ]
    (folder / "passwords").write_text(broker_access.password_file(users))
    (folder / "acl").write_text(broker_access.acl_file(users))
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = free.getsockname()[1]
    text = CONFIGURATION.read_text()
    for old in ("/mosquitto/credentials", "/mosquitto/tls", "/mosquitto/data"):
        assert old in text
        text = text.replace(old, str(folder))
    text = text.replace("listener 8883", f"listener {port} 127.0.0.1\nuser root")
    (folder / "mosquitto.conf").write_text(text)
    process = subprocess.Popen(
        [str(MOSQUITTO), "-c", str(folder / "mosquitto.conf")], stderr=subprocess.DEVNULL
    )
    for _ in range(200):
        with socket.socket() as probe:
            if probe.connect_ex(("127.0.0.1", port)) == 0:
                break
        time.sleep(0.02)
    assert process.poll() is None
    yield port, folder / "ca.crt"
    process.terminate()
    process.wait(10)


def connect(port: int, authority: Path | None, user: str | None, password: str | None) -> object:
    codes: list[object] = []
    client = mqtt.Client(mqtt.CallbackAPIVersion.VERSION2, reconnect_on_failure=False)
    if authority:
        client.tls_set(str(authority))
    if user:
        client.username_pw_set(user, password)
    client.on_connect = lambda c, u, f, code, p: codes.append(code)
    client.on_disconnect = lambda c, u, f, code, p: codes.append(code)
    client.connect("localhost", port)
    client.loop_start()
    end = time.monotonic() + 10
    while not codes and time.monotonic() < end:
        time.sleep(0.01)
    client.disconnect()
    client.loop_stop()
    return codes[0]


def test_a_known_user_gets_in_over_tls(broker: tuple[int, Path]) -> None:
    port, authority = broker
    assert not connect(port, authority, "worker", "w").is_failure
    assert not connect(port, authority, "device-1", "d").is_failure


def test_nobody_else_does(broker: tuple[int, Path]) -> None:
    port, authority = broker
    assert connect(port, authority, None, None).is_failure
    assert connect(port, authority, "device-1", "w").is_failure


def test_plain_connections_and_unknown_authorities_do_not(broker: tuple[int, Path]) -> None:
    port, _ = broker
    assert connect(port, None, "worker", "w").is_failure
    with socket.create_connection(("127.0.0.1", port)) as plain, pytest.raises(ssl.SSLError):
        ssl.create_default_context().wrap_socket(plain, server_hostname="localhost")
