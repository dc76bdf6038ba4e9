"""A batch is acknowledged as a whole, in the order in which it came, by a broker's own account."""

from pathlib import Path

import pytest
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.reasoncodes import ReasonCode

from ingest.wire.mqtt import BrokerSettings, Listener, Pack
from tests.faults.test_renumbering import listening, publish, taken
from tests.support.broker import Broker, needs_mosquitto
from tests.support.waiting import until


def pack(number: int) -> Pack:
    return Pack(number, 1, "shop", "d", b"[]", False, 0.0, 1)


@pytest.fixture
def acknowledged() -> list[int]:
    return []


@pytest.fixture
def listener(monkeypatch: pytest.MonkeyPatch, acknowledged: list[int]) -> Listener:
    """One that is connected for the first time, as far as it knows."""
    made = Listener(BrokerSettings("127.0.0.1", 1, None, None, "heelmark", (), "w"))
    monkeypatch.setattr(made.client, "ack", lambda mid, _qos: acknowledged.append(mid))
    made.connects, made._linked = 1, True
    return made


def test_one_is_acknowledged_by_the_caller_and_the_others_in_order_by_the_clients_own_thread(
    listener: Listener, acknowledged: list[int]
) -> None:
    listener.acknowledge([pack(1)._replace(qos=0), pack(2)._replace(connection=0), pack(3), pack(4), pack(5)])
    assert acknowledged == [3]
    listener.client.loop_misc()
    assert acknowledged == [3, 4, 5], "MQTT 3.1.1, 4.6: in the order in which the messages came"


def test_what_was_in_hand_when_the_link_broke_is_not_acknowledged_before_the_broker_lets_us_in(
    listener: Listener, acknowledged: list[int]
) -> None:
    """The broker may have numbered anew by then, and would take it for another pack that is not kept yet."""
    listener._on_disconnect(
        listener.client, None, None, ReasonCode(PacketTypes.DISCONNECT, "Unspecified error"), None
    )
    listener.acknowledge([pack(3), pack(4)])
    listener.client.loop_misc()
    assert acknowledged == []


@needs_mosquitto
@pytest.mark.broker
def test_nothing_of_a_batch_comes_again_though_nothing_else_is_said(tmp_path: Path) -> None:
    broker = Broker(tmp_path).start()
    first = listening(broker)
    publish(broker, *(str(number) for number in range(300)))
    first.acknowledge(taken(first, 300))
    until(lambda: not first._kept)
    with first._in_order:
        # The broker answers in order: what was said before this has been heard, and not cut off by the next connection.
        heard = first.client.publish("heelmark/shop/refused/d", b"", qos=1)
    heard.wait_for_publish(5)
    assert heard.is_published()
    first.stop()
    again = listening(broker)
    publish(broker, "new")
    assert [one.payload for one in taken(again, 1)] == [b"new"]
    again.stop()
    broker.stop()
