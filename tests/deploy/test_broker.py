"""Both embedded brokers: who may connect, say and hear what, and the queue for a worker that is away."""

import os
import secrets
import shutil
import socket
import threading
import time
from contextlib import contextmanager
from dataclasses import dataclass

import paho.mqtt.client as mqtt
import pytest

from deploy.up.broker import (
    LARGEST_MESSAGE,
    SYSTEM_FOLDERS,
    access_folder,
    broker_name,
    broker_spec,
)
from deploy.up.child import Child
from deploy.up.credentials import broker_credentials, write_private_text
from deploy.up.settings import UpSettings
from deploy.up.supervisor import Supervisor
from service.outbound import broker_access

pytestmark = pytest.mark.broker
READINGS, REFUSED = "heelmark/shop/readings/probe-1", "heelmark/shop/refused/probe-1"
WORKER = f"worker-{secrets.token_hex(8)}"
PASSWORDS = {name: f"the password of {name}" for name in (WORKER, "gateway", "van", "probe-1", "probe-2")}


def free_port() -> int:
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return one.getsockname()[1]


def users(names=tuple(PASSWORDS)):
    """The worker, gateways of two places, two devices, as `heelmark broker-files` writes them."""
    hashed = {name: broker_access.hash_password(PASSWORDS[name], b"twelve bytes") for name in names}
    device, any_device = broker_access.device_user, broker_access.ANY_DEVICE
    made = {
        WORKER: lambda h: broker_access.worker_user("heelmark", WORKER, h),
        "gateway": lambda h: device("heelmark", "shop", any_device, "gateway", h),
        "van": lambda h: device("heelmark", "van", any_device, "van", h),
        "probe-1": lambda h: device("heelmark", "shop", "probe-1", "probe-1", h),
        "probe-2": lambda h: device("heelmark", "shop", "probe-2", "probe-2", h),
    }
    return [made[name](hashed[name]) for name in names]


def write_users(settings, made):
    folder = access_folder(settings)
    write_private_text(folder / "passwords", broker_access.password_file(made))
    write_private_text(folder / "acl", broker_access.acl_file(made))


@dataclass
class Running:
    """A broker that somebody started."""

    settings: UpSettings
    child: Child
    supervisor: Supervisor


@pytest.fixture(scope="module", params=["mosquitto", "amqtt"])
def broker(request, tmp_path_factory):
    if request.param == "mosquitto" and not shutil.which(
        "mosquitto", path=os.environ["PATH"] + ":" + SYSTEM_FOLDERS
    ):
        pytest.skip("no mosquitto on the path")
    data = tmp_path_factory.mktemp(f"{request.param} with a space")
    settings = UpSettings(data=data, mqtt_port=free_port(), broker=request.param)
    write_users(settings, users())
    spec = broker_spec(settings, os.environ)
    assert broker_name(spec) == request.param
    supervisor = Supervisor(data, print)
    yield Running(settings, supervisor.start(spec), supervisor)
    supervisor.stop_all()


class Client:
    """A paho client that remembers what it was told."""

    def __init__(self, port, client_id, user, password, clean, acknowledge, will):
        self.heard, self.answers, self.retained, self.disconnects = [], [], 0, 0
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
        if will:
            self.paho.will_set(*will, qos=1)
        self.paho.on_connect = lambda _c, _u, _f, reason, _p: self._note(self.answers, reason.is_failure)
        self.paho.on_subscribe = lambda _c, _u, _m, reasons, _p: self._note(
            self.answers, reasons[0].is_failure
        )
        self.paho.on_message = self._hear
        self.paho.on_disconnect = lambda *_: self._note_disconnect()
        self.paho.connect("127.0.0.1", port)
        self.paho.loop_start()

    def _note_disconnect(self):
        with self.news:
            self.disconnects += 1
            self.news.notify_all()

    def _hear(self, _client, _userdata, message):
        self.retained += message.retain
        self._note(self.heard, message.payload)

    def break_connection(self):
        """As kill -9 does: no DISCONNECT is sent."""
        if (connection := self.paho.socket()) is not None:
            connection.shutdown(socket.SHUT_RDWR)

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
def client(broker, user=None, password=None, client_id="anything", clean=True, acknowledge=True, will=None):
    one = Client(broker.settings.mqtt_port, client_id, user, password, clean, acknowledge, will)
    try:
        yield one
    finally:
        one.paho.disconnect()
        one.paho.loop_stop()


def as_user(broker, name, **more):
    return client(broker, name, PASSWORDS[name], **more)


def as_worker(broker, **more):
    return as_user(broker, WORKER, **more)


def as_gateway(broker):
    return as_user(broker, "gateway")


@pytest.mark.parametrize(("user", "password"), [(None, None), (WORKER, "wrong"), ("stranger", "wrong")])
def test_nobody_gets_in_without_the_password(broker, user, password):
    with client(broker, user, password) as one:
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
    with as_worker(broker, clean=False) as worker:
        assert worker.accepted()
        worker.paho.subscribe("heelmark/+/readings/+", qos=1)
        assert worker.accepted()
    publish_readings(broker, count)
    with as_worker(broker, clean=False) as worker:
        assert worker.wait(lambda: len(set(worker.heard)) == count, timeout=60), len(worker.heard)
        assert worker.retained == 0, "a queued reading must not look like a retained message"
        assert in_order(worker.heard)


def test_what_a_killed_worker_had_not_acknowledged_comes_again(broker):
    count = 500
    with as_worker(broker, clean=False, acknowledge=False) as worker:
        assert worker.accepted()
        worker.paho.subscribe("heelmark/+/readings/+", qos=1)
        assert worker.accepted()
        publish_readings(broker, count)
        assert worker.wait(lambda: worker.heard)
        worker.break_connection()
    with as_worker(broker, clean=False) as worker:
        assert worker.wait(lambda: len(set(worker.heard)) == count, timeout=60), len(worker.heard)
        assert in_order(worker.heard)


@pytest.fixture(autouse=True)
def empty_queue(request):
    """Begins each test without what an earlier one left for the worker: its session has one name."""
    if "broker" in request.fixturenames:
        with as_worker(request.getfixturevalue("broker"), clean=True) as worker:
            assert worker.accepted()


@pytest.fixture
def queue_of_fifty(broker):
    """What waits for a worker that is away."""
    with as_worker(broker, clean=False) as worker:
        assert worker.accepted()
        worker.paho.subscribe("heelmark/+/readings/+", qos=1)
        assert worker.accepted()
    publish_readings(broker, 50)
    yield
    with as_worker(broker, clean=False) as worker:
        assert worker.wait(lambda: len(set(worker.heard)) == 50, timeout=20), len(set(worker.heard))


@pytest.mark.parametrize(
    ("user", "password"),
    [("probe-1", PASSWORDS["probe-1"]), ("gateway", PASSWORDS["gateway"]), (WORKER, "wrong")],
)
def test_nobody_else_gets_the_workers_session_or_destroys_it(broker, queue_of_fifty, user, password):
    """Whoever names the worker's client id, with a right password of its own or none, leaves its queue alone."""
    for clean in (False, True):
        with client(broker, user, password, client_id=WORKER, clean=clean) as intruder:
            assert intruder.wait(lambda: intruder.answers)


def test_a_stranger_who_guesses_at_names_finds_no_session(broker, queue_of_fifty):
    """Mosquitto before 2.0.13 drops the session whose name it is given without a user: none can be guessed."""
    for name in ("worker", "heelmark-ingest-all", "heelmark", "gateway", "anything"):
        with client(broker, client_id=name) as intruder:
            assert intruder.wait(lambda: intruder.answers)
    made = {broker_credentials(broker.settings.data / str(n), "heelmark").worker_user for n in range(2)}
    assert len(made) == 2 and all(len(name) >= 16 for name in made)


def test_a_connected_worker_is_not_disconnected_by_one_that_names_its_session(broker):
    with as_worker(broker, clean=False) as worker:
        assert worker.accepted()
        worker.paho.subscribe("heelmark/+/readings/+", qos=1)
        assert worker.accepted()
        for _ in range(5):
            with as_user(broker, "probe-2", client_id=WORKER) as intruder:
                assert intruder.accepted()
        publish_readings(broker, 3)
        assert worker.wait(lambda: len(worker.heard) == 3)
        assert worker.disconnects == 0


def test_a_device_speaks_for_itself_and_a_gateway_for_its_place_alone(broker):
    with as_worker(broker) as worker:
        assert worker.accepted()
        worker.paho.subscribe("heelmark/#", qos=1)
        assert worker.accepted()
        forgeries = {
            "probe-1": [
                "heelmark/shop/readings/probe-2",
                "heelmark/shop/readings/gateway",
                "heelmark/van/readings/probe-1",
            ],
            "van": ["heelmark/shop/readings/probe-1", "heelmark/shop/readings/gateway"],
        }
        for user, topics in forgeries.items():
            with as_user(broker, user) as one:
                assert one.accepted()
                for topic in topics:
                    one.paho.publish(topic, b"forged", qos=1).wait_for_publish(10)
        own = {"probe-1": READINGS, "van": "heelmark/van/readings/gateway", "gateway": READINGS}
        for user, topic in own.items():
            with as_user(broker, user) as one:
                assert one.accepted()
                one.paho.publish(topic, user.encode(), qos=1).wait_for_publish(10)
        assert worker.wait(lambda: len(worker.heard) >= 3)
        assert sorted(worker.heard) == [b"gateway", b"probe-1", b"van"]


def test_a_last_will_says_no_more_than_its_client_may(broker):
    with as_worker(broker) as worker:
        assert worker.accepted()
        worker.paho.subscribe("heelmark/+/readings/+", qos=1)
        assert worker.accepted()
        for topic in ("heelmark/shop/readings/probe-2", READINGS):
            with as_user(broker, "probe-1", will=(topic, topic.encode())) as one:
                one.wait(lambda: one.answers)
                one.break_connection()
                one.wait(lambda: one.disconnects)
        assert worker.wait(lambda: worker.heard)
        assert worker.heard == [READINGS.encode()]


def test_a_message_too_large_is_not_passed_on(broker):
    with as_worker(broker) as worker:
        assert worker.accepted()
        worker.paho.subscribe("heelmark/+/readings/+", qos=1)
        assert worker.accepted()
        for size in (LARGEST_MESSAGE + 1, 20 * LARGEST_MESSAGE):
            with as_gateway(broker) as gateway:
                assert gateway.accepted()
                gateway.paho.publish(READINGS, b"x" * size, qos=1)
                gateway.wait(lambda: gateway.disconnects, timeout=2)
        with as_gateway(broker) as gateway:
            assert gateway.accepted()
            gateway.paho.publish(READINGS, b"y" * (LARGEST_MESSAGE - 100), qos=1).wait_for_publish(10)
        assert worker.wait(lambda: worker.heard)
        assert [len(payload) for payload in worker.heard] == [LARGEST_MESSAGE - 100]


def test_a_revoked_user_is_put_out_and_a_new_one_let_in_without_a_restart(broker):
    watching = threading.Thread(target=broker.supervisor.watch, daemon=True)
    with as_user(broker, "probe-2") as revoked:
        assert revoked.accepted()
        watching.start()
        write_users(broker.settings, users([name for name in PASSWORDS if name != "probe-2"]))
        assert revoked.wait(lambda: revoked.disconnects)
        with as_user(broker, "probe-2") as again:
            assert not again.accepted()
        write_users(broker.settings, users())
        assert again_accepted(broker, "probe-2")
    assert broker.child.running


def again_accepted(broker, name):
    deadline = time.monotonic() + 20
    while time.monotonic() < deadline:
        with as_user(broker, name) as one:
            if one.accepted():
                return True
        time.sleep(0.1)
    return False


def in_order(heard):
    """Each first arrival after its predecessor's; a trend needs that."""
    firsts = [int(payload) for payload in dict.fromkeys(heard)]
    return firsts == sorted(firsts)


@pytest.mark.parametrize("attempt", range(5))
def test_readings_of_a_gateway_that_hangs_up_at_once_arrive_in_order(broker, attempt):
    count = 300
    with as_worker(broker, clean=False) as worker:
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
    data = broker.settings.data
    made = broker_credentials(data, "heelmark")
    assert broker_credentials(data, "heelmark") == made
    files = [path for path in (data / "broker").rglob("*") if path.is_file() and path.suffix != ".db"]
    assert files and {path.stat().st_mode & 0o077 for path in files} == {0}
