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
from tests.support.waiting import until

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


def test_a_device_cannot_take_the_workers_session(broker: tuple[int, Path]) -> None:
    port, authority = broker
    heard: list[bytes] = []

    def worker() -> mqtt.Client:
        client = mqtt.Client(
            mqtt.CallbackAPIVersion.VERSION2, client_id="any", clean_session=False, reconnect_on_failure=False
        )
        client.tls_set(str(authority))
        client.username_pw_set("worker", "w")
        client.on_message = lambda c, u, message: heard.append(message.payload)
        client.on_connect = lambda c, u, f, code, p: c.subscribe("heelmark/+/readings/+", qos=1)
        subscribed: list[object] = []
        client.on_subscribe = lambda *_: subscribed.append(1)
        client.connect("localhost", port)
        client.loop_start()
        until(lambda: subscribed)
        return client

    def gone(client: mqtt.Client) -> None:
        client.disconnect()
        client.loop_stop()

    gone(worker())
    for client_id, clean in (("device-1", True), ("worker", False), ("worker", True)):
        device = mqtt.Client(mqtt.CallbackAPIVersion.VERSION2, client_id=client_id, clean_session=clean)
        device.tls_set(str(authority))
        device.username_pw_set("device-1", "d")
        device.connect("localhost", port)
        device.loop_start()
        device.publish("heelmark/van-7/readings/gauge-1", client_id.encode(), qos=1).wait_for_publish(10)
        gone(device)
    again = worker()
    until(lambda: len(heard) == 3)
    gone(again)
    assert sorted(heard) == [b"device-1", b"worker", b"worker"]


def test_in_a_container_it_reads_its_users_again_when_they_have_changed(
    broker: tuple[int, Path], tmp_path: Path
) -> None:
    port, authority = broker
    with socket.create_server(("127.0.0.1", 0)) as free:
        own_port = free.getsockname()[1]
    folder = authority.parent
    text = (folder / "mosquitto.conf").read_text().replace(f"listener {port} ", f"listener {own_port} ")
    for name in ("passwords", "acl"):
        shutil.copy(folder / name, tmp_path / name)
        text = text.replace(str(folder / name), str(tmp_path / name))
    (tmp_path / "mosquitto.conf").write_text(text.replace("persistence true", "persistence false"))
    script = (CONFIGURATION.parent / "serve.sh").read_text()
    for old, new in (
        ("/mosquitto/config/mosquitto.conf", str(tmp_path / "mosquitto.conf")),
        ("/mosquitto/credentials/*", f"{tmp_path}/passwords {tmp_path}/acl"),
        ("mosquitto -c", f"{MOSQUITTO} -c"),
    ):
        assert old in script
        script = script.replace(old, new)
    serving = subprocess.Popen(["sh", "-c", script], stderr=subprocess.DEVNULL)
    try:

        def lets_in(user: str, password: str) -> bool:
            try:
                return not connect(own_port, authority, user, password).is_failure
            except OSError:
                return False

        until(lambda: lets_in("worker", "w"))
        assert not lets_in("worker", "another")
        new = broker_access.hash_password("another", b"twelve bytes")
        users = [broker_access.worker_user("heelmark", "worker", new)]
        (tmp_path / "draft").write_text(broker_access.password_file(users))
        (tmp_path / "draft").replace(tmp_path / "passwords")
        until(lambda: lets_in("worker", "another"))
    finally:
        serving.terminate()
        assert serving.wait(30) == 0
