"""Clean stops, second starts that keep the data, and sentences for what a person can mend."""

import signal
import socket
import subprocess
import sys

import psutil
import pytest

from tests.support.stack import ROOT, Stack

pytestmark = pytest.mark.slow


@pytest.fixture
def stack(tmp_path):
    stack = Stack(tmp_path / "var")
    yield stack
    stack.end()


def run_briefly(stack):
    """Start expecting a refusal; its exit code and sentence."""
    done = subprocess.run(
        [sys.executable, "-m", "deploy.up", *stack.arguments],
        cwd=ROOT,
        env=stack.environ,
        capture_output=True,
        text=True,
        timeout=60,
    )
    return done.returncode, done.stderr


def test_stop_leaves_no_process_and_a_second_start_keeps_the_data(stack):
    stack.start()
    assert "shown this once" in stack.output()
    told = stack.first_run
    assert set(told) == {"base_url", "board", "tokens", "mqtt"}
    assert set(told["board"]) == {"user", "password"}
    assert set(told["tokens"]) == {"technician", "supervisor", "reader"}
    assert set(told["mqtt"]) == {"host", "port", "user", "password", "root"}
    assert (stack.data / "first-run.json").stat().st_mode & 0o777 == 0o600
    stack.post("/cylinders", {"serial": "KEPT-1", "place": "shop"})
    running = stack.children()
    assert set(running) == {"broker-files", "broker", "service", "worker", "watch", "deliverer"}
    every = psutil.Process(stack.process.pid).children(recursive=True)

    assert stack.stop(signal.SIGINT) == 0
    assert "Stopped. The data stay" in stack.output()
    assert not any(one.is_running() for one in every)

    stack.start()
    assert told["board"]["password"] not in stack.output()
    assert stack.first_run["tokens"] == told["tokens"]
    assert stack.get("/cylinders/KEPT-1")["serial"] == "KEPT-1"
    assert stack.stop(signal.SIGTERM) == 0


def test_a_moved_port_is_told_to_scripts(stack):
    stack.start()
    assert stack.first_run["base_url"] == f"http://127.0.0.1:{stack.environ['HEELMARK_HTTP_PORT']}"
    assert stack.first_run["mqtt"]["port"] == int(stack.environ["HEELMARK_MQTT_PORT"])
    code, sentence = run_briefly(stack)
    assert code == 1
    assert f"another Heelmark is running on {stack.data}" in sentence


@pytest.mark.parametrize("setting", ["HEELMARK_HTTP_PORT", "HEELMARK_MQTT_PORT"])
def test_a_port_in_use_is_named_with_its_setting(stack, setting):
    with socket.create_server(("127.0.0.1", int(stack.environ[setting]))):
        code, sentence = run_briefly(stack)
    assert code == 1
    assert f"port {stack.environ[setting]} on 127.0.0.1 cannot be used" in sentence
    assert f"{setting}=" in sentence


def test_only_this_machine_is_listened_to(stack):
    stack.start()
    ports = {int(stack.environ["HEELMARK_HTTP_PORT"]), int(stack.environ["HEELMARK_MQTT_PORT"])}
    every = psutil.Process(stack.process.pid).children(recursive=True)
    listening = {
        connection.laddr
        for one in every
        for connection in one.net_connections("tcp")
        if connection.status == psutil.CONN_LISTEN
    }
    assert {address.port for address in listening} == ports
    assert {address.ip for address in listening} == {"127.0.0.1"}
