"""A broker that was killed gives its old numbers to other packs: a late acknowledgement must not speak for those."""

import queue
import time
from pathlib import Path

import pytest
from paho.mqtt import client as paho

from ingest.wire.mqtt import BrokerSettings, Listener, Pack
from tests.support.broker import Broker, needs_mosquitto
from tests.support.waiting import until

TOPIC = "heelmark/shop/readings/d"
SAVED_S = 1.5
"""After so long the broker has saved what it was told, [s]."""


def listening(broker: Broker) -> Listener:
    listener = Listener(BrokerSettings("127.0.0.1", broker.port, None, None, "heelmark", (), "w"))
    listener.start()
    until(lambda: listener.connected)
    return listener


def publish(broker: Broker, *texts: str) -> None:
    gateway = paho.Client(paho.CallbackAPIVersion.VERSION2, client_id="gateway")
    gateway.connect("127.0.0.1", broker.port)
    gateway.loop_start()
    for text in texts:
        gateway.publish(TOPIC, text, qos=1).wait_for_publish(5)
    gateway.disconnect()
    gateway.loop_stop()


def taken(listener: Listener, count: int) -> list[Pack]:
    packs: list[Pack] = []

    def enough() -> bool:
        try:
            packs.append(listener.packs.get_nowait())
        except queue.Empty:
            return False
        return len(packs) == count

    until(enough)
    return packs


@needs_mosquitto
@pytest.mark.broker
@pytest.mark.slow
def test_packs_in_hand_when_the_broker_died_are_not_acknowledged_for_others(tmp_path: Path) -> None:
    broker = Broker(tmp_path, persistent=True).start()
    listener = listening(broker)
    time.sleep(SAVED_S)
    publish(broker, "before")
    in_hand = taken(listener, 1)
    broker.kill()
    # As if it had been killed before it saved the pack: what it knows is the session, and no number given.
    (tmp_path / "mosquitto.db").unlink()
    broker.start()
    until(lambda: listener.connects == 2)
    publish(broker, "after")
    (after,) = taken(listener, 1)
    assert after.mid == in_hand[0].mid, "this broker does not number anew, and the test shows nothing"
    listener.acknowledge(in_hand)
    time.sleep(0.3)
    listener.client._sock_close()  # the worker dies before it has kept the second one
    listener.client.on_disconnect = None
    listener.stop()
    again = listening(broker)
    assert [pack.payload for pack in taken(again, 1)] == [b"after"]
    again.stop()
    broker.stop()
