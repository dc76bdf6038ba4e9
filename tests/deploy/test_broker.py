"""Both embedded brokers: who may connect, say and hear what, and the queue for a worker that is away."""

import os
import shutil
import socket
import threading
from contextlib import contextmanager

import paho.mqtt.client as mqtt
import pytest

from deploy.up.broker import SYSTEM_FOLDERS, broker_name, broker_spec
from deploy.up.credentials import broker_credentials
from deploy.up.refusal import StartRefused
from deploy.up.settings import UpSettings
from deploy.up.supervisor import Supervisor

pytestmark = pytest.mark.broker
READINGS, REFUSED = "heelmark/shop/readings/probe-1", "heelmark/shop/refused/probe-1"


def free_port() -> int:
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return one.getsockname()[1]


@pytest.fixture(scope="module", params=["mosquitto", "amqtt"])
def broker(request, tmp_path_factory):
    if request.param == "mosquitto" and not shutil.which(
        "mosquitto", path=os.environ["PATH"] + ":" + SYSTEM_FOLDERS
    ):
        pytest.skip("no mosquitto on the path")
    data = tmp_path_factory.mktemp(f"{request.param} with a space")
    settings = UpSettings(data=data, mqtt_port=free_port(), broker=request.param)
    credentials = broker_credentials(data)
    spec = broker_spec(settings, credentials, os.environ)
    assert broker_name(spec) == request.param
    supervisor = Supervisor(data, print)
    supervisor.start(spec)
    yield settings, credentials
    supervisor.stop_all()


class Client:
    """A paho client that remembers what it was told."""

    def __init__(self, port, client_id, user, password, clean, acknowledge):
        self.heard, self.answers, self.retained = [], [], 0
        self.news = threading.Condition()
        self.paho = mqtt.Client(
            mqtt.CallbackAPIVersion.VERSION2,
            client_id=client_id,
            clean_session=clean,
            protocol=mqtt.MQTTv311,
            reconnect_on_failure=False,
            manual_ack=not acknowledge,
        )
        if user:
            self.paho.username_pw_set(user, password)
        self.paho.on_connect = lambda _c, _u, _f, reason, _p: self._note(self.answers, reason.is_failure)
        self.paho.on_subscribe = lambda _c, _u, _m, reasons, _p: self._note(
            self.answers, reasons[0].is_failure
        )
        self.paho.on_message = self._hear
        self.paho.connect("127.0.0.1", port)
        self.paho.loop_start()

    def _hear(self, _client, _userdata, message):
        self.retained += message.retain
        self._note(self.heard, message.payload)

    def break_connection(self):
        """As kill -9 does: no DISCONNECT is sent."""
        self.paho.socket().shutdown(socket.SHUT_RDWR)

    def _note(self, where, what):
        with self.news:
            where.append(what)
            self.news.notify_all()

    def wait(self, condition, timeout=10.0):
        with self.news:
            return self.news.wait_for(condition, timeout)

    def accepted(self):
        assert self.wait(lambda: self.answers), "no answer"
        return not self.answers.pop(0)


@contextmanager
def client(broker, client_id, user=None, password=None, clean=True, acknowledge=True):
    one = Client(broker[0].mqtt_port, client_id, user, password, clean, acknowledge)
    try:
        yield one
    finally:
        one.paho.disconnect()
        one.paho.loop_stop()


def as_worker(broker, client_id="worker-1", **more):
    return client(broker, client_id, "worker", broker[1].worker_password, **more)


def as_gateway(broker):
    return client(broker, "gateway-1", "gateway", broker[1].gateway_password)


@pytest.mark.parametrize(("user", "password"), [(None, None), ("worker", "wrong"), ("stranger", "wrong")])
def test_nobody_gets_in_without_the_password(broker, user, password):
    with client(broker, "intruder", user, password) as one:
        assert not one.accepted()


def test_each_user_may_do_its_own_part_and_no_more(broker):
    with as_worker(broker) as worker, as_gateway(broker) as gateway:
        assert worker.accepted() and gateway.accepted()
        worker.paho.subscribe("heelmark/+/readings/+", qos=1)
        gateway.paho.subscribe("heelmark/+/refused/+", qos=1)
        assert worker.accepted() and gateway.accepted()
        gateway.paho.publish(REFUSED, b"forged", qos=1)
        worker.paho.publish(READINGS, b"forged", qos=1)
        gateway.paho.publish("elsewhere", b"forged", qos=1)
        gateway.paho.publish(READINGS, b"reading", qos=1)
        worker.paho.publish(REFUSED, b"refused", qos=1)
        assert worker.wait(lambda: worker.heard) and gateway.wait(lambda: gateway.heard)
        assert (worker.heard, gateway.heard) == ([b"reading"], [b"refused"])


def test_everything_said_while_the_worker_was_away_is_kept_for_it(broker):
    count = 3000
    with as_worker(broker, "away-worker", clean=False) as worker:
        assert worker.accepted()
        worker.paho.subscribe("heelmark/+/readings/+", qos=1)
        assert worker.accepted()
    publish_readings(broker, count)
    with as_worker(broker, "away-worker", clean=False) as worker:
        assert worker.wait(lambda: len(set(worker.heard)) == count, timeout=60), len(worker.heard)
        assert worker.retained == 0, "a queued reading must not look like a retained message"
        assert in_order(worker.heard)


def test_what_a_killed_worker_had_not_acknowledged_comes_again(broker):
    count = 500
    with as_worker(broker, "killed-worker", clean=False, acknowledge=False) as worker:
        assert worker.accepted()
        worker.paho.subscribe("heelmark/+/readings/+", qos=1)
        assert worker.accepted()
        publish_readings(broker, count)
        assert worker.wait(lambda: worker.heard)
        worker.break_connection()
    with as_worker(broker, "killed-worker", clean=False) as worker:
        assert worker.wait(lambda: len(set(worker.heard)) == count, timeout=60), len(worker.heard)
        assert in_order(worker.heard)


def in_order(heard):
    """Each first arrival after its predecessor's; a trend needs that."""
    firsts = [int(payload) for payload in dict.fromkeys(heard)]
    return firsts == sorted(firsts)


@pytest.mark.parametrize("attempt", range(5))
def test_readings_of_a_gateway_that_hangs_up_at_once_arrive_in_order(broker, attempt):
    count = 300
    with as_worker(broker, f"ordered-worker-{attempt}", clean=False) as worker:
        assert worker.accepted()
        worker.paho.subscribe("heelmark/+/readings/+", qos=1)
        assert worker.accepted()
        publish_readings(broker, count)
        assert worker.wait(lambda: len(set(worker.heard)) == count, timeout=60), len(worker.heard)
        assert in_order(worker.heard)


def publish_readings(broker, count):
    with as_gateway(broker) as gateway:
        assert gateway.accepted()
        sent = [gateway.paho.publish(READINGS, str(number).encode(), qos=1) for number in range(count)]
        for one in sent:
            one.wait_for_publish(30)


def test_secrets_are_for_the_owner_alone_and_stay_the_same(broker):
    folder = broker[0].data / "broker"
    assert {path.stat().st_mode & 0o077 for path in folder.iterdir() if path.suffix != ".db"} == {0}
    assert broker_credentials(broker[0].data) == broker[1]
    assert not any(broker[1].worker_password in path.read_text() for path in folder.glob("*.passwords"))


def test_mosquitto_by_name_without_mosquitto_is_refused(tmp_path, monkeypatch):
    monkeypatch.setattr("deploy.up.broker.SYSTEM_FOLDERS", "")
    settings = UpSettings(data=tmp_path, broker="mosquitto")
    with pytest.raises(StartRefused, match="no mosquitto is on the path"):
        broker_spec(settings, broker_credentials(tmp_path), {"PATH": str(tmp_path)})
