"""The broker's side: what the callbacks do, and the end of an owner whose session was taken over."""

import socket
import threading
import time
from collections.abc import Iterator
from dataclasses import replace

import pytest
from paho.mqtt.client import MQTTMessage
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.reasoncodes import ReasonCode

from ingest.wire.mqtt import SESSION_TAKEN_OVER, BrokerSettings, Listener


def settings(port: int = 1, version: int = 5) -> BrokerSettings:
    return BrokerSettings("127.0.0.1", port, None, None, "heelmark", ("shop",), "owner", version=version)


def message(topic: str, payload: bytes = b"[]", retain: bool = False) -> MQTTMessage:
    made = MQTTMessage(mid=5, topic=topic.encode())
    made.payload, made.qos, made.retain = payload, 1, retain
    return made


def test_a_pack_is_queued_with_what_its_topic_names() -> None:
    listener = Listener(settings(), clock=lambda: 12.0)
    listener._on_message(listener.client, None, message("heelmark/shop/readings/p1", b"x", retain=True))
    pack = listener.packs.get_nowait()
    assert (pack.place, pack.device, pack.payload, pack.retained, pack.arrival_s) == (
        "shop",
        "p1",
        b"x",
        True,
        12.0,
    )


@pytest.mark.parametrize(
    "topic", ["x", "other/shop/readings/p1", "heelmark/shop/refused/p1", "heelmark//readings/"]
)
def test_an_odd_topic_is_counted_and_never_raises(topic: str) -> None:
    listener = Listener(settings())
    listener._on_message(listener.client, None, message(topic))
    assert listener.odd_topics == 1
    assert listener.packs.empty()


def test_a_topic_of_a_mapping_is_queued_as_it_is() -> None:
    listener = Listener(settings(), foreign=["vans/+/+/state"])
    listener._on_message(listener.client, None, message("vans/van-7/p1/state", b"{}"))
    listener._on_message(listener.client, None, message("vans/van-7/p1/other", b"{}"))
    pack = listener.packs.get_nowait()
    assert (pack.topic, pack.place, pack.device, pack.payload) == ("vans/van-7/p1/state", "", "", b"{}")
    assert listener.odd_topics == 1


def test_a_lost_link_is_no_take_over() -> None:
    listener = Listener(settings())
    for _ in range(20):
        reason = ReasonCode(PacketTypes.DISCONNECT, "Unspecified error")
        listener._on_disconnect(listener.client, None, None, reason, None)
    assert not listener.taken_over


@pytest.fixture
def now(monkeypatch) -> list[float]:
    """The steady clock that the listener sees, [s]."""
    seconds = [0.0]
    monkeypatch.setattr("ingest.wire.mqtt.time.monotonic", lambda: seconds[0])
    return seconds


def test_an_owner_that_keeps_losing_a_session_it_long_held_is_replaced(now) -> None:
    listener = Listener(settings())
    reason = ReasonCode(PacketTypes.DISCONNECT, "Unspecified error")
    accepted = ReasonCode(PacketTypes.CONNACK, "Success")
    for lasts_s in (60.0, 1.0, 1.0):
        assert not listener.taken_over
        listener._on_connect(listener.client, None, None, accepted, None)
        now[0] += lasts_s
        listener._on_disconnect(listener.client, None, None, reason, None)
    assert listener.taken_over


def test_of_two_young_owners_that_take_the_session_from_each_other_one_gives_up(now) -> None:
    listener = Listener(settings())
    reason = ReasonCode(PacketTypes.DISCONNECT, "Unspecified error")
    accepted = ReasonCode(PacketTypes.CONNACK, "Success")
    kicks = 0
    while not listener.taken_over:
        listener._on_connect(listener.client, None, None, accepted, None)
        now[0] += 1.0
        listener._on_disconnect(listener.client, None, None, reason, None)
        kicks += 1
    assert kicks == 8


@pytest.fixture
def scripted_broker() -> Iterator[tuple[int, list[int]]]:
    """Accept MQTT 5 clients, grant their subscription, then say that the session was taken over."""
    server = socket.create_server(("127.0.0.1", 0))
    connects: list[int] = []

    def serve() -> None:
        while True:
            try:
                link, _ = server.accept()
            except OSError:
                return
            connects.append(1)
            link.recv(1000)
            link.sendall(bytes([0x20, 3, 0, 0, 0]))
            request = link.recv(1000)
            link.sendall(bytes([0x90, 4, request[2], request[3], 0, 1]))
            link.sendall(bytes([0xE0, 1, SESSION_TAKEN_OVER]))
            time.sleep(0.1)
            link.close()

    thread = threading.Thread(target=serve, daemon=True)
    thread.start()
    yield server.getsockname()[1], connects
    server.shutdown(socket.SHUT_RDWR)
    server.close()
    thread.join(timeout=5)


def test_session_taken_over_stops_the_old_owner_for_good(scripted_broker: tuple[int, list[int]]) -> None:
    """MQTT 5, 2.4 and 3.14.2.1: reason code 0x8E, session taken over."""
    port, connects = scripted_broker
    listener = Listener(settings(port))
    listener.start()
    deadline = time.monotonic() + 10
    while not listener.taken_over and time.monotonic() < deadline:
        time.sleep(0.02)
    time.sleep(1.5)
    assert listener.taken_over
    assert len(connects) == 1
    listener.stop()


@pytest.mark.parametrize(
    ("host", "addresses"),
    [
        ("broker", (("broker", 1883),)),
        ("a, b:4223,c", (("a", 1883), ("b", 4223), ("c", 1883))),
        ("::1", (("::1", 1883),)),
        ("[::1]:4223,[::2]", (("::1", 4223), ("::2", 1883))),
    ],
)
def test_a_host_may_be_several_nodes(host: str, addresses: tuple[tuple[str, int], ...]) -> None:
    made = BrokerSettings(host, 1883, None, None, "heelmark", (), "owner")
    assert made.addresses == addresses


@pytest.mark.parametrize("version", [4, 5])
def test_the_next_node_is_tried_when_one_is_away_or_hangs_up(version: int) -> None:
    with socket.create_server(("127.0.0.1", 0)) as away, socket.create_server(("127.0.0.1", 0)) as rude:
        nobody = away.getsockname()[1]
        away.close()
        host = f"127.0.0.1:{rude.getsockname()[1]},127.0.0.1:{nobody}"
        listener = Listener(
            BrokerSettings(host, 1, None, None, "heelmark", ("shop",), "owner", version=version)
        )
        listener.start()
        rude.settimeout(10.0)
        for _ in range(2):
            link, _ = rude.accept()
            link.close()
        assert listener.alive
        assert not listener.taken_over
        listener.stop()


def test_what_an_earlier_connection_brought_is_not_acknowledged_on_a_later_one(monkeypatch) -> None:
    """Its packet number may mean another message by then: MQTT 3.1.1, 4.4 lets only the same session repeat it."""
    listener = Listener(settings())
    acknowledged: list[int] = []
    monkeypatch.setattr(listener.client, "ack", lambda mid, _qos: acknowledged.append(mid))
    listener.connects, listener._linked = 1, True
    listener._on_message(listener.client, None, message("heelmark/shop/readings/p1"))
    pack = listener.packs.get_nowait()
    listener.connects = 2
    listener.acknowledge([pack])
    assert acknowledged == []
    listener.acknowledge([pack._replace(connection=2)])
    assert acknowledged == [5]


def test_a_subscription_that_was_refused_is_asked_for_again(monkeypatch) -> None:
    """A cluster that has just lost a node answers 0x80 (MQTT 3.1.1, 3.9.3); the link stays open all the same."""
    monkeypatch.setattr("ingest.wire.mqtt.SUBSCRIBE_AGAIN_S", 0.0)
    listener = Listener(settings())
    asked: list[object] = []
    monkeypatch.setattr(listener.client, "subscribe", asked.append)
    refused = ReasonCode(PacketTypes.SUBACK, "Unspecified error")
    granted = ReasonCode(PacketTypes.SUBACK, "Granted QoS 1")
    listener._on_subscribe(listener.client, None, 1, [granted, refused], None)
    assert asked == [[("heelmark/shop/readings/+", 1)]]
    assert not listener.connected
    listener._on_subscribe(listener.client, None, 2, [granted], None)
    assert len(asked) == 1
    assert listener.connected


def test_a_broker_that_refuses_a_mappings_topics_does_not_cost_our_own() -> None:
    listener, asked = Listener(settings(), foreign=["vans/+/+"]), []
    listener.client.subscribe = lambda topics: asked.append(topics) or (0, len(asked))  # type: ignore[method-assign]
    listener._subscribe(listener.client)
    assert asked == [[("heelmark/shop/readings/+", 1)], [("vans/+/+", 1)]]
    granted, refused = (ReasonCode(PacketTypes.SUBACK, name) for name in ("Granted QoS 1", "Not authorized"))
    listener._on_subscribe(listener.client, None, 1, [granted], None)
    listener._on_subscribe(listener.client, None, 2, [refused], None)
    assert listener.connected and listener.unheard == {"vans/+/+"}
    assert len(asked) == 2, "asking at once again would go on for ever"


def test_only_what_is_new_is_subscribed_to_while_connected() -> None:
    listener, asked, left = Listener(settings(), foreign=["a/+"]), [], []
    listener.client.subscribe = lambda topics: asked.extend(topics) or (0, 1)  # type: ignore[method-assign]
    listener.client.unsubscribe = left.extend  # type: ignore[method-assign]
    listener.listen_to(["a/+", "b/+"])
    assert asked == left == [], "whoever connects subscribes"
    listener._linked = True
    listener.listen_to(["b/+", "c/+"])
    assert (asked, left) == ([("c/+", 1)], ["a/+"])


def test_a_worker_that_hears_all_reports_wrong_topics_and_never_its_own_refusals() -> None:
    listener = Listener(replace(settings(), hears_all=True))
    for topic in ("heelmark/shop/reading/p1", "vans/van-7/p1", "heelmark/unknown/refused/unknown"):
        listener._on_message(listener.client, None, message(topic))
    listener._on_message(listener.client, None, message("vans/van-7/old", retain=True))
    assert [listener.packs.get_nowait().topic for _ in range(2)] == [
        "heelmark/shop/reading/p1",
        "vans/van-7/p1",
    ]
    assert listener.packs.empty() and listener.odd_topics == 2
