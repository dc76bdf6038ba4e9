"""A van that was out of reach: what its broker kept becomes one pair in the shop, at the time when it was measured."""

import os
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import pytest
from paho.mqtt import client as paho

from ingest.estimator.settling_settings import SettlingSettings
from ingest.sessions.pipeline import Pipeline
from ingest.wire.hookup import Hookup
from service.outbound import broker_access
from tests.deploy.certificates import make_certificates
from tests.support.broker import free_port, mosquitto, needs_mosquitto
from tests.support.fake_service import FakeService, hookup
from tests.support.feeding import Made, one_device
from tests.support.waiting import until, worker_status

BROKER = Path(__file__).parents[2] / "deploy" / "broker"
DEVICE, PLACE = "urn:dev:mac:0024befffe804ff1", "van-7"
HOURS_AGO_S = 5 * 3600.0

pytestmark = [needs_mosquitto, pytest.mark.broker]


def changed(name: str, path: Path, changes: dict[str, str]) -> Path:
    """A shipped configuration with what an installation has to put into it, or a test has to move."""
    text = (BROKER / name).read_text(encoding="utf-8")
    for old, new in changes.items():
        assert old in text, old
        text = text.replace(old, new)
    # As root Mosquitto would become its own user, who may not write here.
    path.write_text(f"user root\n{text}", encoding="utf-8")
    return path


class Road:
    """A shop with its broker, and a van with another."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.shop_port, self.van_port = folder, free_port(), free_port()
        self.running: list[subprocess.Popen[bytes]] = []
        for place in ("shop", "van"):
            (folder / place).mkdir()
        make_certificates(folder, "localhost")
        hashed = {
            name: broker_access.hash_password(name, b"twelve bytes") for name in ("worker", "van-7-user")
        }
        users = [
            broker_access.worker_user("heelmark", "worker", hashed["worker"]),
            broker_access.device_user(
                "heelmark", PLACE, broker_access.ANY_DEVICE, "van-7-user", hashed["van-7-user"]
            ),
        ]
        (folder / "passwords").write_text(broker_access.password_file(users))
        (folder / "acl").write_text(broker_access.acl_file(users))
        self.shop = changed(
            "mosquitto.conf",
            folder / "shop.conf",
            {
                "/mosquitto/credentials": str(folder),
                "/mosquitto/tls": str(folder),
                "/mosquitto/data": str(folder / "shop"),
                "listener 8883": f"listener {self.shop_port} 127.0.0.1",
            },
        )
        self.van = changed(
            "van.conf",
            folder / "van.conf",
            {
                "listener 1883 127.0.0.1": f"listener {self.van_port} 127.0.0.1",
                "/var/lib/mosquitto/": f"{folder / 'van'}/",
                "heelmark.example:8883": f"localhost:{self.shop_port}",
                "/etc/mosquitto/heelmark-ca.crt": str(folder / "ca.crt"),
                "van-7-password": "van-7-user",
                "restart_timeout 5 60": "restart_timeout 1",
            },
        )

    def begin(self, configuration: Path, port: int) -> subprocess.Popen[bytes]:
        """Start a broker."""
        process = subprocess.Popen([str(mosquitto()), "-c", str(configuration)], stderr=subprocess.DEVNULL)
        self.running.append(process)

        def listens() -> bool:
            with socket.socket() as probe:
                return probe.connect_ex(("127.0.0.1", port)) == 0

        until(listens)
        return process

    def worker(self, service: FakeService) -> None:
        """Start the shop's worker."""
        environ = {name: value for name, value in os.environ.items() if not name.startswith("HEELMARK_")} | {
            "HEELMARK_SERVICE_URL": service.url,
            "HEELMARK_WORKER_TOKEN": "t",
            "HEELMARK_MQTT_HOST": "localhost",
            "HEELMARK_MQTT_PORT": str(self.shop_port),
            "HEELMARK_MQTT_TLS": "true",
            "HEELMARK_MQTT_CA_FILE": str(self.folder / "ca.crt"),
            "HEELMARK_MQTT_USER": "worker",
            "HEELMARK_MQTT_PASSWORD": "worker",
            "HEELMARK_WORKER_DATA": str(self.folder / "worker"),
        }
        self.running.append(
            subprocess.Popen([sys.executable, "-m", "ingest", "run"], env=environ, stderr=subprocess.DEVNULL)
        )

    def stop(self) -> None:
        """End everything."""
        for process in reversed(self.running):
            process.terminate()
            process.wait(30)


@pytest.fixture
def road(tmp_path: Path) -> Iterator[Road]:
    made = Road(tmp_path)
    yield made
    made.stop()


def test_180_packs_made_offline_become_one_pair_with_its_true_time(road: Road) -> None:
    began_s = time.time() - HOURS_AGO_S
    packs = one_device(DEVICE, seed=4, duration_s=1800.0, start_s=began_s)
    assert len(packs) == 180
    van = road.begin(road.van, road.van_port)
    gateway = paho.Client(paho.CallbackAPIVersion.VERSION2, client_id="gateway")
    gateway.max_queued_messages_set(0)
    gateway.connect("127.0.0.1", road.van_port)
    gateway.loop_start()
    sent = [gateway.publish(f"heelmark/{PLACE}/readings/{DEVICE}", one.payload, qos=1) for one in packs]
    for one in sent:
        one.wait_for_publish(30)
        assert one.is_published()
    gateway.disconnect()
    gateway.loop_stop()
    # The engine is turned off; what waits is on the van's disk.
    van.terminate()
    assert van.wait(30) == 0
    road.begin(road.van, road.van_port)

    service = FakeService().start()
    try:
        service.hookups = [hookup(7, DEVICE, place=PLACE)]
        road.begin(road.shop, road.shop_port)
        road.worker(service)
        until(lambda: worker_status(road.folder / "worker").get("counts", {}).get("packs", 0) >= 180, 90)
        until(lambda: worker_status(road.folder / "worker").get("outbox") == {"posted": 1}, 60)
        (pair,) = service.pairs.values()
    finally:
        service.stop()
    assert pair == as_if_never_away(packs)
    assert began_s < datetime.fromisoformat(pair["settled_at"]).timestamp() <= packs[-1].stamp_s


def as_if_never_away(packs: list[Made]) -> dict[str, object]:
    """The pair that a worker makes which hears each pack as it is made."""
    pipeline = Pipeline(SettlingSettings())
    pipeline.attach([Hookup.from_json(hookup(7, DEVICE, place=PLACE))])
    (pair,) = (
        pair for one in packs for pair in pipeline.take(PLACE, one.device, one.payload, one.stamp_s + 0.3)
    )
    told: dict[str, object] = pair.as_json()
    return told
