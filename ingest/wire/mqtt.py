"""The broker's side of the worker: one persistent session, packs into a queue, acknowledged when told to."""

from __future__ import annotations

import base64
import json
import math
import queue
import ssl
import threading
import time
from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import structlog
from paho.mqtt import client as paho
from paho.mqtt.enums import CallbackAPIVersion, MQTTErrorCode, MQTTProtocolVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

log = structlog.get_logger(__name__)

SESSION_TAKEN_OVER = 0x8E
SESSION_EXPIRY_S = 7 * 86400
MOST_UNACKNOWLEDGED = 1000
"""Receive Maximum: bounds what is sent again after a crash, and lets a full batch build up."""
MOST_REPEATED = 65_536
"""So much of a refused pack is published again, [bytes]."""
BAD_CREDENTIALS = {4, 5, 0x86, 0x87}
"""Refusals that trying again does not change: bad user name or password, not authorised."""
UNSUPPORTED_VERSION = {1, 0x84}
STABLE_S, SHORT_S = 10.0, 4.0
KICKS, YOUNG_KICKS = 2, 8
"""An owner that held its session for long and then loses it at once so often is being replaced; a young one, which may
be the one that replaces, holds out longer."""
YOUNG_WAIT_S = 0.2
SUBSCRIBE_AGAIN_S = 1.0
EVERYTHING = "#"
REFUSED = "refused"
"""The level of the worker's own publications, which it must not read."""
UNKNOWN = "unknown"
"""Place and device of a foreign message that no mapping reads."""


class Pack(NamedTuple):
    """One message as it arrived; `mid` is what acknowledges it, on the connection that brought it."""

    mid: int
    qos: int
    place: str
    device: str
    payload: bytes
    retained: bool
    arrival_s: float
    connection: int = 0
    topic: str = ""
    """Of a foreign message, whose place and device only a mapping knows."""
    mapping: str = ""
    """The one mapping to read it by, where its sender names it."""
    posted: int = 0
    """The service's number of a message that came over HTTP."""


@dataclass(frozen=True, slots=True)
class BrokerSettings:
    """Where the broker is and who we are to it.

    Parameters
    ----------
    host : str
        Its name or address; several with commas between them for the nodes of a cluster, each with or without a port.
    port : int
        Port where none is given.
    user, password : str or None
        Credentials.
    root : str
        First level of all topics.
    places : tuple of str
        Places whose readings this worker owns; none means all.
    client_id : str
        Name of the persistent session.
    version : int
        4 for MQTT 3.1.1, 5 for MQTT 5, which an owner of places needs to learn that it was taken over.
    tls : bool
        Whether to use TLS.
    ca_file : str or None
        Certificates to trust instead of the system's.
    keepalive_s : int
        Keep-alive, [s].
    hears_all : bool
        Whether to hear every topic, to report those that nobody reads: for setting a gateway up.
    """

    host: str
    port: int
    user: str | None
    password: str | None
    root: str
    places: tuple[str, ...]
    client_id: str
    version: int = 4
    tls: bool = False
    ca_file: str | None = None
    keepalive_s: int = 15
    hears_all: bool = False

    @property
    def addresses(self) -> tuple[tuple[str, int], ...]:
        """Every node's name and port; raises ValueError for a port that is not a number."""
        found = []
        for text in self.host.split(","):
            name, colon, port = text.strip().rpartition(":")
            numbered = bool(colon) and not name.endswith(":") and (":" not in name or name.endswith("]"))
            found.append((name.strip("[]"), int(port)) if numbered else (text.strip().strip("[]"), self.port))
        return tuple(found)

    @property
    def owns(self) -> bool:
        """Whether another worker with the same identity is meant to take over from this one."""
        return bool(self.places) or self.version == MQTTProtocolVersion.MQTTv5


class _Client(paho.Client):
    """A client whose own thread does something of ours in every round of its loop."""

    each_round: Callable[[], None]

    def loop_misc(self) -> MQTTErrorCode:
        self.each_round()
        return super().loop_misc()


class Listener:
    """One MQTT client; its callbacks only enqueue, count and log, and never raise.

    Parameters
    ----------
    settings : BrokerSettings
        Where and who.
    clock : callable
        Wall clock, seconds since 1970 UTC.
    foreign : sequence of str
        Filters of topics whose messages a mapping reads.
    """

    def __init__(
        self,
        settings: BrokerSettings,
        clock: Callable[[], float] = time.time,
        foreign: Sequence[str] = (),
    ) -> None:
        self.settings = settings
        self.clock = clock
        self.foreign = tuple(foreign)
        self.packs: queue.SimpleQueue[Pack] = queue.SimpleQueue()
        self.connected = False
        self._linked = False
        self.taken_over = False
        self.refused_for_good: str | None = None
        self.connects = 0
        self._connected_s = 0.0
        self._was_stable = False
        self._kicks = 0
        self.odd_topics = 0
        self.unheard: set[str] = set()
        """Filters of mappings that the broker does not let this worker subscribe to."""
        self._asked: dict[int, tuple[str, ...]] = {}
        self._tried = 0
        self._kept: deque[Pack] = deque()
        self._in_order = threading.Lock()
        self.client = self._client(settings.version)

    @property
    def _longest_wait_s(self) -> int:
        return 15 if len(self.settings.addresses) == 1 else 2

    def _client(self, version: int) -> paho.Client:
        s = self.settings
        five = version == MQTTProtocolVersion.MQTTv5
        client = _Client(
            CallbackAPIVersion.VERSION2,
            client_id=s.client_id,
            clean_session=None if five else False,
            protocol=MQTTProtocolVersion(version),
            manual_ack=True,
        )
        if s.user:
            client.username_pw_set(s.user, s.password)
        if s.tls:
            client.tls_set(ca_certs=s.ca_file, tls_version=ssl.PROTOCOL_TLS_CLIENT)
        # A standby is back sooner than the old owner, who therefore gives up first.
        first_s: float = YOUNG_WAIT_S if s.owns else 1
        client.reconnect_delay_set(first_s, self._longest_wait_s)  # type: ignore[arg-type]
        client.max_queued_messages_set(1000)
        client.each_round = self._acknowledge_kept
        client.on_connect = self._on_connect
        client.on_connect_fail = lambda *_args: self._choose_node()
        client.on_subscribe = self._on_subscribe
        client.on_disconnect = self._on_disconnect
        client.on_message = self._on_message
        return client

    def start(self) -> None:
        """Connect in the background and keep trying."""
        self._choose_node(first=True)
        self.client.loop_start()

    def _choose_node(self, *, first: bool = False) -> None:
        """Have the next attempt go to the next node; with one address there is nothing to choose."""
        s, nodes = self.settings, self.settings.addresses
        if not first and len(nodes) == 1:
            return
        host, port = nodes[self._tried % len(nodes)]
        self._tried += 1
        if s.version == MQTTProtocolVersion.MQTTv5:
            properties = Properties(PacketTypes.CONNECT)  # type: ignore[no-untyped-call]
            properties.SessionExpiryInterval = SESSION_EXPIRY_S
            properties.ReceiveMaximum = MOST_UNACKNOWLEDGED
            self.client.connect_async(host, port, s.keepalive_s, clean_start=False, properties=properties)
        else:
            self.client.connect_async(host, port, s.keepalive_s)

    def stop(self) -> None:
        """Disconnect; the broker keeps the session and what was not acknowledged."""
        self._acknowledge_kept()
        self.client.disconnect()
        self.client.loop_stop()

    @property
    def alive(self) -> bool:
        """Whether the network thread still runs."""
        thread = self.client._thread
        return thread is not None and thread.is_alive()

    def acknowledge(self, packs: list[Pack]) -> None:
        """Tell the broker that these packs are kept.

        What an earlier connection brought comes again; its number may mean another pack by now, not kept yet. Between
        two connections, and until the broker has let us in again, nothing is said at all.
        """
        self._kept.extend(packs)
        # One wakes the client's thread, which tells the others: every call from here would cost both threads a switch.
        self._acknowledge_kept(most=1)

    def _acknowledge_kept(self, most: float = math.inf) -> None:
        with self._in_order:
            while self._kept and most > 0:
                pack = self._kept.popleft()
                if pack.qos and self._linked and pack.connection == self.connects:
                    self.client.ack(pack.mid, pack.qos)
                    most -= 1

    def publish_refusal(self, pack: Pack, reason: str, detail: str) -> None:
        """Publish a refused pack with its reason to the place's `refused` topic."""
        body: dict[str, Any] = {"reason": reason, "detail": detail, "at": pack.arrival_s}
        try:
            body["pack"] = pack.payload[:MOST_REPEATED].decode()
        except UnicodeDecodeError:
            body["pack_base64"] = base64.b64encode(pack.payload[:MOST_REPEATED]).decode()
        if pack.topic:
            body["topic"] = pack.topic
        where = f"{pack.place or UNKNOWN}/refused/{pack.device or UNKNOWN}"
        self.publish(f"{self.settings.root}/{where}", json.dumps(body).encode(), qos=1)

    def publish(self, topic: str, payload: bytes, qos: int = 0) -> None:
        """Publish, or log what the client does not take."""
        try:
            self.client.publish(topic, payload, qos=qos)
        except ValueError as error:
            log.warning("mqtt.not_published", topic=topic[:200], error=str(error))

    def _on_connect(
        self, client: paho.Client, _userdata: object, _flags: object, reason: Any, _properties: object
    ) -> None:
        code = int(getattr(reason, "value", reason))
        if reason.is_failure:
            log.error("mqtt.connection_refused", reason=str(reason), code=code)
            if code in BAD_CREDENTIALS or code in UNSUPPORTED_VERSION:
                self.refused_for_good = str(reason)
                client.disconnect()
            return
        self.connects += 1
        self._linked = True
        self._connected_s = time.monotonic()
        self._subscribe(client)
        log.info("mqtt.connected", host=client.host, port=client.port)

    def listen_to(self, foreign: Sequence[str]) -> None:
        """Hear these filters of mappings from now on, and no others."""
        before, self.foreign = self.foreign, tuple(foreign)
        if not self._linked:
            # Whoever connects subscribes; what an earlier connection asked for and nobody reads is acknowledged.
            return
        if gone := [one for one in before if one not in self.foreign]:
            self.client.unsubscribe(gone)
        if fresh := tuple(one for one in self.foreign if one not in before):
            self._subscribe_foreign(self.client, fresh)

    def _subscribe(self, client: paho.Client) -> None:
        places = self.settings.places or ("+",)
        client.subscribe([(f"{self.settings.root}/{place}/readings/+", 1) for place in places])
        if self.foreign:
            self._subscribe_foreign(client, self.foreign)
        if self.settings.hears_all:
            # Without acknowledgement: what nobody reads is shown, not kept safe.
            _, mid = client.subscribe([(EVERYTHING, 0)])
            if mid is not None:
                self._asked[mid] = (EVERYTHING,)

    def _subscribe_foreign(self, client: paho.Client, filters: tuple[str, ...]) -> None:
        """Ask apart: a broker that refuses the topics of a mapping must not cost our own."""
        _, mid = client.subscribe([(one, 1) for one in filters])
        if mid is not None:
            self._asked[mid] = filters

    def _on_subscribe(
        self, client: paho.Client, _userdata: object, mid: int, reasons: Any, _properties: object
    ) -> None:
        """Ask again if our own was not granted: a connection without it would hear nothing for ever."""
        foreign = self._asked.pop(mid, None)
        if foreign is not None:
            answered = dict(zip(foreign, reasons, strict=False))
            refused = {one for one, reason in answered.items() if reason.is_failure}
            self.unheard = (self.unheard - answered.keys()) | refused
            if refused:
                log.error("mqtt.topics_refused", topics=sorted(refused))
            return
        self.connected = not any(reason.is_failure for reason in reasons)
        if not self.connected:
            log.error("mqtt.subscription_refused", reasons=[str(reason) for reason in reasons])
            time.sleep(SUBSCRIBE_AGAIN_S)
            self._subscribe(client)

    def _on_disconnect(
        self, client: paho.Client, _userdata: object, _flags: object, reason: Any, _properties: object
    ) -> None:
        with self._in_order:
            # Whoever is about to acknowledge has done so by now, and what was not sent ends with the connection.
            was_connected, self._linked, self.connected = self._linked, False, False
        code = int(getattr(reason, "value", reason))
        if code == SESSION_TAKEN_OVER or (was_connected and code and self._is_contested()):
            self.taken_over = True
            client.disconnect()
        elif code:
            self._choose_node()
        log.warning("mqtt.disconnected", reason=str(reason), code=code)

    def _is_contested(self) -> bool:
        """Whether a standby keeps taking the session: some brokers close the link without saying so."""
        if not self.settings.owns:
            return False
        lasted_s = time.monotonic() - self._connected_s
        if lasted_s >= STABLE_S:
            self._was_stable, self._kicks = True, 0
            self.client.reconnect_delay_set(min_delay=1, max_delay=self._longest_wait_s)
        elif lasted_s <= SHORT_S:
            self._kicks += 1
        return self._kicks >= (KICKS if self._was_stable else YOUNG_KICKS)

    def _on_message(self, client: paho.Client, _userdata: object, message: paho.MQTTMessage) -> None:
        try:
            # A topic that is not UTF-8 raises a ValueError too.
            root, place, kind, device = message.topic.rsplit("/", 3)
        except ValueError:
            root, place, kind, device = "", "", "", ""
        topic = ""
        if root != self.settings.root or kind != "readings" or not place or not device:
            topic, place, device = self._foreign_topic(message), "", ""
            if not topic:
                self.odd_topics += 1
                client.ack(message.mid, message.qos)
                return
        self.packs.put(
            Pack(
                message.mid,
                message.qos,
                place,
                device,
                bytes(message.payload),
                message.retain,
                self.clock(),
                self.connects,
                topic,
            )
        )

    def _foreign_topic(self, message: paho.MQTTMessage) -> str:
        """Return the message's topic if a mapping is for it, otherwise nothing."""
        try:
            topic = message.topic
        except ValueError:
            return ""
        root, _, below = topic.partition("/")
        own = root == self.settings.root and below.split("/")[1:2] == [REFUSED]
        if self.settings.hears_all and not own and not message.retain:
            return topic
        return topic if any(paho.topic_matches_sub(one, topic) for one in self.foreign) else ""
