"""The files are judged by Mosquitto itself: who gets in, who may publish what, what a revocation does."""

import os
import shutil
import signal
import socket
import subprocess
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import paho.mqtt.client as mqtt
import pytest

from service.outbound import broker_access as access
from tests.support.waiting import until

MOSQUITTO = shutil.which("mosquitto", path=os.environ.get("PATH", "") + ":/usr/sbin")
GAUGE = "urn:dev:mac:0024befffe804ff1"
CLAMP = "urn:dev:mac:0024befffe804ff2"
needs_mosquitto = pytest.mark.skipif(MOSQUITTO is None, reason="no mosquitto on this machine")


FOREIGN = ("vans/{place}/{device}/state", "spBv1.0/{place}/{type}/{node}/{device}", "lorawan/up")


def users(*, clamp: bool = True) -> list[access.BrokerUser]:
    def hashed(name: str) -> str:
        return access.hash_password(f"password of {name}", name.encode().ljust(12)[:12])

    made = [
        replace(
            access.worker_user("heelmark", "worker", hashed("worker")), foreign=access.worker_on(FOREIGN)
        ),
        replace(
            access.device_user("heelmark", "van 7", GAUGE, "device-gauge", hashed("device-gauge")),
            foreign=access.device_on(FOREIGN, "van 7", GAUGE),
        ),
        replace(
            access.device_user("heelmark", "van 8", access.ANY_DEVICE, "gateway", hashed("gateway")),
            foreign=access.device_on(FOREIGN, "van 8", access.ANY_DEVICE),
        ),
    ]
    return (
        made
        + [access.device_user("heelmark", "van 7", CLAMP, "device-clamp", hashed("device-clamp"))] * clamp
    )


class Broker:
    def __init__(self, folder: Path) -> None:
        self.folder = folder
        with socket.create_server(("127.0.0.1", 0)) as free:
            self.port = free.getsockname()[1]
        (folder / "mosquitto.conf").write_text(
            f"listener {self.port} 127.0.0.1\nallow_anonymous false\nuser root\n"
            f"password_file {folder}/passwords\nacl_file {folder}/acl\n"
        )
        self.write(users())
        self.process = subprocess.Popen(
            [str(MOSQUITTO), "-c", str(folder / "mosquitto.conf")], stderr=subprocess.DEVNULL
        )

    def write(self, made: list[access.BrokerUser]) -> None:
        for name, text in (("passwords", access.password_file(made)), ("acl", access.acl_file(made))):
            (self.folder / name).write_text(text)
            (self.folder / name).chmod(0o600)

    def client(self, username: str, *, password: str | None = None) -> "Client":
        return Client(self.port, username, password or f"password of {username}")


class Client:
    def __init__(self, port: int, username: str, password: str) -> None:
        self.got: list[str] = []
        self.code: object = None
        self.disconnected = False
        self.client = mqtt.Client(
            mqtt.CallbackAPIVersion.VERSION2, protocol=mqtt.MQTTv5, reconnect_on_failure=False
        )
        self.client.username_pw_set(username, password)
        self.client.on_connect = lambda c, u, f, code, p: setattr(self, "code", code)
        self.client.on_disconnect = lambda *a: setattr(self, "disconnected", True)
        self.client.on_message = lambda c, u, message: self.got.append(message.topic)
        self.subscribed: set[int] = set()
        self.client.on_subscribe = lambda c, u, mid, *_: self.subscribed.add(mid)
        self.client.on_publish = lambda c, u, mid, code, p: setattr(self, "published", code)
        self.client.connect("127.0.0.1", port)
        self.client.loop_start()
        until(lambda: self.code is not None)

    def subscribe(self, *topics: str) -> None:
        """Subscribe, and wait until the broker has answered: what is published before is not heard."""
        asked = {self.client.subscribe(topic, qos=1)[1] for topic in topics}
        until(lambda: asked <= self.subscribed)

    def publish(self, topic: str) -> bool:
        """Whether the broker said it was authorised (MQTT 5 reason code of the PUBACK)."""
        self.published: object = None
        self.client.publish(topic, b"[]", qos=1)
        until(lambda: self.published is not None)
        return not self.published.is_failure


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Broker]:
    running = Broker(tmp_path)

    def listening() -> bool:
        with socket.socket() as probe:
            return probe.connect_ex(("127.0.0.1", running.port)) == 0

    until(listening)
    yield running
    running.process.terminate()
    running.process.wait(10)


@needs_mosquitto
@pytest.mark.broker
def test_a_device_publishes_its_own_readings_and_nothing_else(broker: Broker) -> None:
    worker = broker.client("worker")
    worker.subscribe("heelmark/+/readings/+")
    gauge = broker.client("device-gauge")
    assert gauge.publish(f"heelmark/van 7/readings/{GAUGE}")
    until(lambda: worker.got == [f"heelmark/van 7/readings/{GAUGE}"])
    for topic in (
        f"heelmark/van 7/readings/{CLAMP}",
        f"heelmark/van 8/readings/{GAUGE}",
        f"heelmark/van 7/refused/{GAUGE}",
        f"other/van 7/readings/{GAUGE}",
        "$CONTROL/dynamic-security/v1",
    ):
        assert not gauge.publish(topic), topic
    assert len(worker.got) == 1


@needs_mosquitto
@pytest.mark.broker
def test_a_device_hears_nothing_but_its_own_refusals(broker: Broker) -> None:
    gauge = broker.client("device-gauge")
    gauge.subscribe("#")
    gauge.subscribe(f"heelmark/van 7/readings/{CLAMP}")
    gauge.subscribe(f"heelmark/van 7/refused/{GAUGE}")
    assert broker.client("device-clamp").publish(f"heelmark/van 7/readings/{CLAMP}")
    assert broker.client("worker").publish(f"heelmark/van 7/refused/{GAUGE}")
    until(lambda: bool(gauge.got))
    assert set(gauge.got) == {f"heelmark/van 7/refused/{GAUGE}"}


@needs_mosquitto
@pytest.mark.broker
def test_the_topics_of_mappings_are_the_workers_to_read_and_each_ones_own_to_write(broker: Broker) -> None:
    worker, gauge, gateway = (broker.client(name) for name in ("worker", "device-gauge", "gateway"))
    worker.subscribe("vans/+/+/state", "spBv1.0/+/+/+", "spBv1.0/+/+/+/+", "lorawan/up")
    heard = [f"vans/van 7/{GAUGE}/state", "vans/van 8/any/state", "spBv1.0/van 8/NBIRTH/edge"]
    heard += ["spBv1.0/van 8/DDATA/edge/g"]
    assert gauge.publish(heard[0])
    assert [gateway.publish(topic) for topic in heard[1:]] == [True] * 3
    for topic in (f"vans/van 8/{GAUGE}/state", f"vans/van 7/{CLAMP}/state", "lorawan/up"):
        assert not gauge.publish(topic), topic
    for topic in (heard[0], "spBv1.0/van 7/NBIRTH/edge", "lorawan/up"):
        assert not gateway.publish(topic), topic
    gateway.subscribe("spBv1.0/van 8/NCMD/edge")
    assert worker.publish("spBv1.0/van 8/NCMD/edge")
    until(lambda: gateway.got == ["spBv1.0/van 8/NCMD/edge"])
    assert not worker.publish(heard[0])
    until(lambda: set(heard) <= set(worker.got))


@needs_mosquitto
@pytest.mark.broker
def test_a_gateway_publishes_for_every_device_of_its_place(broker: Broker) -> None:
    gateway = broker.client("gateway")
    assert gateway.publish(f"heelmark/van 8/readings/{CLAMP}")
    assert not gateway.publish(f"heelmark/van 7/readings/{CLAMP}")


@needs_mosquitto
@pytest.mark.broker
def test_wrong_or_missing_passwords_do_not_get_in(broker: Broker) -> None:
    assert broker.client("device-gauge", password="password of worker").code.is_failure
    assert broker.client("nobody").code.is_failure
    assert not broker.client("device-gauge").code.is_failure


@needs_mosquitto
@pytest.mark.broker
def test_a_revoked_device_is_put_out_while_the_others_stay(broker: Broker) -> None:
    gauge, clamp = broker.client("device-gauge"), broker.client("device-clamp")
    broker.write(users(clamp=False))
    broker.process.send_signal(signal.SIGHUP)
    until(lambda: clamp.disconnected)
    assert broker.client("device-clamp").code.is_failure
    assert not gauge.disconnected
    assert gauge.publish(f"heelmark/van 7/readings/{GAUGE}")


@pytest.mark.skipif(shutil.which("mosquitto_passwd") is None, reason="no mosquitto_passwd on this machine")
def test_hashes_have_the_form_that_mosquitto_passwd_writes(tmp_path: Path) -> None:
    subprocess.run(["mosquitto_passwd", "-c", "-b", "p", "someone", "secret"], cwd=tmp_path, check=True)
    theirs = (tmp_path / "p").read_text().strip().partition(":")[2].split("$")
    ours = access.hash_password("secret", b"twelve bytes").split("$")
    assert [len(ours), ours[1]] == [len(theirs), theirs[1]]
    assert [len(ours[3]), len(ours[4])] == [len(theirs[3]), len(theirs[4])]


@pytest.mark.parametrize("bad", ["", "a/b", "+", "#", "a\nuser worker", "a\x00", " a"])
def test_names_that_would_break_out_are_refused(bad: str) -> None:
    with pytest.raises(access.UnusableName):
        access.device_user("heelmark", bad, GAUGE, "u", "h")
    if bad != access.ANY_DEVICE:
        with pytest.raises(access.UnusableName):
            access.device_user("heelmark", "van", bad, "u", "h")
    with pytest.raises(access.UnusableName):
        access.password_file([access.BrokerUser(bad, "h", "t", "t")])
