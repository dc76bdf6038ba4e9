"""A batch is acknowledged as a whole, in the order in which it came, by a broker's own account."""

from pathlib import Path

import pytest

from ingest.mqtt import BrokerSettings, Listener, Pack
from tests.faults.test_renumbering import listening, publish, taken
from tests.support.broker import Broker, needs_mosquitto
from tests.support.waiting import until


def pack(number: int) -> Pack:
    return Pack(number, 1, "shop", "d", b"[]", False, 0.0, 1)


def test_one_is_acknowledged_by_the_caller_and_the_others_in_order_by_the_clients_own_thread(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    listener = Listener(BrokerSettings("127.0.0.1", 1, None, None, "heelmark", (), "w"))
    acknowledged: list[int] = []
    monkeypatch.setattr(listener.client, "ack", lambda mid, _qos: acknowledged.append(mid))
    listener.connects = 1
    listener.acknowledge([pack(1)._replace(qos=0), pack(2)._replace(connection=0), pack(3), pack(4), pack(5)])
    assert acknowledged == [3]
    listener.client.loop_misc()
    assert acknowledged == [3, 4, 5], "MQTT 3.1.1, 4.6: in the order in which the messages came"


@needs_mosquitto
@pytest.mark.broker
def test_nothing_of_a_batch_comes_again_though_nothing_else_is_said(tmp_path: Path) -> None:
    broker = Broker(tmp_path).start()
    first = listening(broker)
    publish(broker, *(str(number) for number in range(300)))
    first.acknowledge(taken(first, 300))

    until(lambda: not first._kept)
    first.stop()
    again = listening(broker)
    publish(broker, "new")
    assert [one.payload for one in taken(again, 1)] == [b"new"]
    again.stop()
    broker.stop()
