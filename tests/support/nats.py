"""A NATS cluster of our own for tests: JetStream and the MQTT gateway, on free ports of 127.0.0.1.

From 2.10 on a real cluster should say `sync_interval: always` in `jetstream`; 2.9 does not know it.
"""

from __future__ import annotations

import shutil
import socket
import subprocess
import threading
import time
from pathlib import Path

import pytest
from paho.mqtt import client as paho

from tests.support.broker import free_port


def nats_server() -> str | None:
    """Return where nats-server is, or None."""
    return shutil.which("nats-server") or next(
        (path for path in ("/usr/sbin/nats-server", "/usr/local/bin/nats-server") if Path(path).exists()),
        None,
    )


needs_nats = pytest.mark.skipif(nats_server() is None, reason="no nats-server on this machine")

CONFIGURATION = """
server_name: {name}
listen: 127.0.0.1:{client}
jetstream {{ store_dir: "{store}" }}
cluster {{ name: heelmark, listen: 127.0.0.1:{cluster}, routes: [{routes}] }}
mqtt {{
  listen: 127.0.0.1:{mqtt}
  stream_replicas: {replicas}
  consumer_replicas: {replicas}
  ack_wait: "{ack_wait_s}s"
  max_ack_pending: {max_ack_pending}
}}
"""


class Node:
    """One server of the cluster."""

    def __init__(self, folder: Path, name: str, text: str, port: int) -> None:
        self.folder, self.name, self.port = folder, name, port
        folder.mkdir(parents=True, exist_ok=True)
        self.config = folder / "nats.conf"
        self.config.write_text(text)
        self.process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        """Start it; it takes connections once it has found the others."""
        program = nats_server()
        assert program is not None
        self.process = subprocess.Popen(
            [program, "-c", str(self.config), "-l", str(self.folder / "log")],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )

    def serves(self) -> bool:
        """Whether it takes MQTT sessions, which it does once the nodes have chosen who leads."""
        with socket.socket() as probe:
            if probe.connect_ex(("127.0.0.1", self.port)) != 0:
                return False
        accepted = threading.Event()
        client = paho.Client(paho.CallbackAPIVersion.VERSION2, client_id=f"probe-{self.name}")
        client.on_connect = lambda _c, _u, _f, reason, _p: None if reason.is_failure else accepted.set()
        client.connect("127.0.0.1", self.port)
        client.loop_start()
        served = accepted.wait(3.0)
        client.disconnect()
        client.loop_stop()
        return served

    def kill(self) -> None:
        """End it with -9."""
        if self.process is not None:
            self.process.kill()
            self.process.wait()
            self.process = None


class Cluster:
    """Three servers, each with its store; every acknowledged message is on a majority of disks.

    Parameters
    ----------
    folder : Path
        A folder in it for each node.
    ack_wait_s : int
        What was delivered and not acknowledged comes again after this, [s].
    max_ack_pending : int
        So many may be delivered and not acknowledged; only 1 keeps the order when a node dies.
    """

    def __init__(self, folder: Path, *, size: int = 3, ack_wait_s: int = 2, max_ack_pending: int = 1) -> None:
        names = [f"n{number}" for number in range(size)]
        routes = [free_port() for _ in names]
        self.nodes = []
        for name, route in zip(names, routes, strict=True):
            mqtt = free_port()
            text = CONFIGURATION.format(
                name=name,
                client=free_port(),
                store=folder / name / "store",
                cluster=route,
                routes=", ".join(f'"nats://127.0.0.1:{port}"' for port in routes),
                mqtt=mqtt,
                replicas=size,
                ack_wait_s=ack_wait_s,
                max_ack_pending=max_ack_pending,
            )
            self.nodes.append(Node(folder / name, name, text, mqtt))

    def start(self, timeout_s: float = 40.0) -> Cluster:
        """Start all nodes and wait until each takes MQTT sessions."""
        for node in self.nodes:
            node.start()
        deadline = time.monotonic() + timeout_s
        while not all(node.serves() for node in self.nodes):
            if time.monotonic() > deadline:
                self.stop()
                raise RuntimeError("the cluster did not come up")
            time.sleep(0.1)
        return self

    @property
    def hosts(self) -> str:
        """All nodes, as the worker's setting writes them."""
        return ",".join(f"127.0.0.1:{node.port}" for node in self.nodes)

    def stop(self) -> None:
        """End all nodes."""
        for node in self.nodes:
            node.kill()
