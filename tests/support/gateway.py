"""A store-and-forward gateway: keeps what it has sent, and sends the last of it again after every lost link."""

from __future__ import annotations

import threading
import time
from typing import Any

from paho.mqtt import client as paho

from tests.support.feeding import Made

SEND_AGAIN = 400
"""A broker's acknowledgement is no durability promise, so so many packs before the oldest open one go again."""
MOST_OPEN = 200


class Gateway(threading.Thread):
    """Publishes packs in order at a steady rate, whatever happens to the broker."""

    def __init__(self, port: int, packs: list[Made], rate_s: float, place: str = "shop") -> None:
        super().__init__(daemon=True)
        self.packs, self.rate_s, self.place = packs, rate_s, place
        self.resent = 0
        self.done = threading.Event()
        self.stopping = threading.Event()
        self._lost = threading.Event()
        self._open: dict[int, Any] = {}
        self._port = port
        self.client = self._connect()

    def _connect(self) -> paho.Client:
        """Return a client without a memory: what was in flight must not overtake what goes again."""
        client = paho.Client(paho.CallbackAPIVersion.VERSION2, client_id=f"gateway-{self.place}")
        client.max_inflight_messages_set(MOST_OPEN)
        client.on_disconnect = lambda *_args: self._lost.set()
        client.connect_async("127.0.0.1", self._port, keepalive=4)
        client.loop_start()
        return client

    def _connect_again(self) -> None:
        old = self.client
        old.on_disconnect = None
        old.disconnect()
        old.loop_stop()
        self._open.clear()
        while not self.stopping.is_set():
            self._lost.clear()
            self.client = self._connect()
            deadline = time.monotonic() + 2.0
            while time.monotonic() < deadline and not self._lost.is_set():
                if self.client.is_connected():
                    return
                time.sleep(0.02)
            self.client.on_disconnect = None
            self.client.loop_stop()

    def run(self) -> None:
        """Send everything, going back after every lost link; done when the last was acknowledged unbroken."""
        position, start = 0, time.monotonic()
        while not self.stopping.is_set():
            if self._lost.is_set():
                self._connect_again()
                self.resent += min(position, SEND_AGAIN)
                position = max(0, position - SEND_AGAIN)
            self._open = {i: m for i, m in self._open.items() if not m.is_published()}
            due = min(len(self.packs), int((time.monotonic() - start) * self.rate_s))
            if not self.client.is_connected() or position >= due or len(self._open) >= MOST_OPEN:
                if position == len(self.packs) and not self._open and not self._lost.is_set():
                    self.done.set()
                time.sleep(0.01)
                continue
            self.done.clear()
            pack = self.packs[position]
            topic = f"heelmark/{self.place}/readings/{pack.device}"
            message = self.client.publish(topic, pack.payload, qos=1)
            if message.rc:
                self._lost.set()
                continue
            self._open[position] = message
            position += 1
        self.client.loop_stop()

    def stop(self) -> None:
        """End the thread."""
        self.stopping.set()
        self.join(timeout=10)
