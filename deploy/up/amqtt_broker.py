"""Runs amqtt with the configuration that `deploy.up.broker` wrote, until SIGTERM.

amqtt 0.12 alone does not keep the promise of QoS 1. It forgets readings that it acknowledged to a gateway
which then disconnected, what it had sent to a session and not seen acknowledged within 5 s or before the
connection broke, and what arrived while the session was just reconnecting; and it marks what it had queued as
retained. `KeepingBroker` keeps each message until the session has acknowledged it. A restart of this broker
still empties its queues; a mosquitto keeps them on disk.

Nor does amqtt ask who a client is before it deletes the session that the client names. Here a client is asked first,
and its id is its user's name, whatever it says, so that nobody reaches another's session.
"""

import asyncio
import json
import logging
import signal
import sys
from collections import defaultdict
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from amqtt.adapters import ReaderAdapter, StreamReaderAdapter, StreamWriterAdapter, WriterAdapter
from amqtt.broker import Broker
from amqtt.contexts import Action
from amqtt.errors import AMQTTError, MQTTError
from amqtt.mqtt.connack import NOT_AUTHORIZED, ConnackPacket
from amqtt.mqtt.protocol.broker_handler import BrokerProtocolHandler
from amqtt.session import Session

from deploy.up.amqtt_access import User, allows, read_users
from deploy.up.broker import LARGEST_MESSAGE, QUEUED_MESSAGES
from service.outbound.broker_access import verifies

IN_FLIGHT = 1000
CONNECT_WITHIN_S = 10.0


@dataclass(slots=True)
class Outbound:
    """What one session has not acknowledged yet, oldest first, and the connection it is being sent over."""

    handler: Any = None
    next_number: int = 0
    waiting: dict[int, tuple[str, bytes, int]] = field(default_factory=dict)
    window: asyncio.Semaphore = field(default_factory=lambda: asyncio.Semaphore(IN_FLIGHT))


class BoundedReader(StreamReaderAdapter):  # type: ignore[misc]
    """Reads no more at once than the largest message; a client that announces more is put out unread."""

    async def read(self, n: int = -1) -> bytes:
        """Read exactly so many bytes."""
        if n > LARGEST_MESSAGE:
            # No MQTTError: after one amqtt goes on and takes the rest of the message for packets.
            raise ValueError(f"a message of {n} bytes, expected at most {LARGEST_MESSAGE}")
        data: bytes = await super().read(n)
        return data


class KeepingBroker(Broker):  # type: ignore[misc]
    """amqtt with at-least-once delivery to sessions that outlive their connection, and users known by name."""

    def __init__(self, configuration: dict[str, Any]) -> None:
        super().__init__({"listeners": configuration["listeners"], "plugins": {}})
        self._access = Path(configuration["access"])
        self._users = read_users(self._access)
        self._outbound: dict[str, Outbound] = defaultdict(Outbound)
        self._sending: set[asyncio.Task[None]] = set()

    def read_users_again(self) -> None:
        """Take over changed users and rights; whoever is no longer let in is put out at once."""
        before, self._users = self._users, read_users(self._access)
        for session, handler in list(self._sessions.values()):
            name = session.username
            if self._users.get(name) != before.get(name):
                self._spawn(handler.handle_connection_closed())

    def _spawn(self, work: Any) -> None:
        task = asyncio.ensure_future(work)
        self._sending.add(task)
        task.add_done_callback(self._sending.discard)

    async def stream_connected(
        self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter, listener_name: str
    ) -> None:
        """Serve a connection."""
        await self._client_connected(listener_name, BoundedReader(reader), StreamWriterAdapter(writer))

    async def _initialize_client_session(
        self, reader: ReaderAdapter, writer: WriterAdapter, remote_address: str, remote_port: int
    ) -> tuple[BrokerProtocolHandler, Session]:
        """Ask who it is before any session is touched."""
        try:
            connecting = BrokerProtocolHandler.init_from_connect(reader, writer, self.plugins_manager)
            handler, session = await asyncio.wait_for(connecting, CONNECT_WITHIN_S)
        except (TimeoutError, ValueError) as fault:
            await writer.close()
            raise MQTTError(f"{remote_address}:{remote_port} did not connect: {fault!r}") from None
        if not self._lets_in(session):
            await ConnackPacket.build(0, NOT_AUTHORIZED).to_stream(writer)
            await writer.close()
            raise MQTTError(f"{session.username!r} of {remote_address}:{remote_port} was not let in")
        session.client_id = session.username
        return handler, await self._session_of(session)

    def _lets_in(self, session: Session) -> bool:
        """Whether the password is right, and the will one that the user might have published."""
        user = self._users.get(session.username)
        if user is None or not verifies(session.password or "", user.hashed):
            return False
        will = session.will_topic or "#"
        return not session.will_flag or (
            not set(will) & set("+#$") and any(allows(pattern, will) for pattern in user.rights["write"])
        )

    async def _session_of(self, fresh: Session) -> Session:
        """Give the session that the client goes on with: a new one, or the one that was kept for it."""
        kept, connected = self._sessions.get(fresh.client_id, (None, None))
        if fresh.clean_session or kept is None or kept.clean_session:
            if connected is not None:
                await connected.handle_connection_closed()
            await self._delete_session(fresh.client_id)
            self._outbound.pop(fresh.client_id, None)
            fresh.parent = 0
            return fresh
        for name in ("will_flag", "will_message", "will_topic", "will_qos", "keep_alive"):
            setattr(kept, name, getattr(fresh, name))
        kept.parent = 1
        return kept

    async def _authenticate(self, *_: object) -> bool:
        return True  # asked already

    async def _topic_filtering(self, session: Session, topic: str, action: Action) -> bool:
        if action == Action.SUBSCRIBE:  # as mosquitto does: what may not be read is not delivered
            return True
        user = self._users.get(session.username, User(""))
        return any(
            allows(pattern, topic) for pattern in user.rights["write" if action == Action.PUBLISH else "read"]
        )

    async def _publish_session_retained_messages(self, session: Session) -> None:
        """Take up what waits for a session; amqtt calls this once its connection is ready."""
        outbound = self._outbound[session.client_id or ""]
        outbound.handler = self._get_handler(session)
        for number in list(outbound.waiting):
            self._send(outbound, number)

    async def _client_message_loop(self, client_session: Session, handler: BrokerProtocolHandler) -> None:
        """Serve a connection, and finish what it published before it ended."""
        taking = asyncio.ensure_future(self._take(client_session, handler))
        handler.mqtt_deliver_next_message = _never  # `_take` does that part
        try:
            await super()._client_message_loop(client_session, handler)
            await client_session.delivered_message_queue.join()
        finally:
            taking.cancel()

    async def _take(self, session: Session, handler: BrokerProtocolHandler) -> None:
        """Pass on what a client publishes, one message after another."""
        while True:
            message: asyncio.Future[Any] = asyncio.Future()
            message.set_result(await session.delivered_message_queue.get())
            try:
                await self._handle_message_delivery(session, handler, message)
            except Exception:
                self.logger.exception("%s: a message could not be passed on", session.client_id)
            session.delivered_message_queue.task_done()

    async def _handle_disconnect(
        self, client_session: Session, handler: BrokerProtocolHandler, *more: Any
    ) -> None:
        outbound = self._outbound[client_session.client_id or ""]
        if outbound.handler is handler:  # and not that of a connection that has taken over
            outbound.handler = None
            if client_session.clean_session:
                self._outbound.pop(client_session.client_id or "", None)
        await super()._handle_disconnect(client_session, handler, *more)

    async def _run_broadcast(self, running_tasks: Any) -> None:  # noqa: ARG002 - amqtt's signature
        message = await self._broadcast_queue.get()
        # Copies: subscriptions come and go while this awaits.
        for pattern, subscriptions in list(self._subscriptions.items()):
            if self._matches(message["topic"], pattern):
                for session, granted in list(subscriptions):
                    await self._offer(session, message, message.get("qos", granted))

    async def _offer(self, session: Session, message: Any, qos: int) -> None:
        if not await self._topic_filtering(session, topic=message["topic"], action=Action.RECEIVE):
            return
        outbound = self._outbound[session.client_id or ""]
        if outbound.handler is None and (session.clean_session or qos == 0):
            return
        if len(outbound.waiting) >= QUEUED_MESSAGES:
            self.logger.error("%s: %d messages wait, one more is dropped", session.client_id, QUEUED_MESSAGES)
            return
        number = outbound.next_number
        outbound.next_number += 1
        outbound.waiting[number] = (message["topic"], message["data"], qos)
        if outbound.handler is not None:
            self._send(outbound, number)

    def _send(self, outbound: Outbound, number: int) -> None:
        self._spawn(self._deliver(outbound, number))

    async def _deliver(self, outbound: Outbound, number: int) -> None:
        handler = outbound.handler
        async with outbound.window:
            while handler is not None and handler is outbound.handler and number in outbound.waiting:
                try:
                    await handler.mqtt_publish(*outbound.waiting[number], retain=False)
                except TimeoutError:
                    continue
                except (AMQTTError, OSError, asyncio.CancelledError) as fault:
                    self.logger.info("message %d stays in the queue: %r", number, fault)
                    return
                outbound.waiting.pop(number, None)


async def _never() -> None:
    await asyncio.Event().wait()


async def serve(configuration: dict[str, Any]) -> None:
    """Serve until SIGTERM or SIGINT, then close the listeners and sessions; SIGHUP: read the users again."""
    stop = asyncio.Event()
    loop = asyncio.get_running_loop()
    for number in (signal.SIGTERM, signal.SIGINT):
        loop.add_signal_handler(number, stop.set)
    broker = KeepingBroker(configuration)
    loop.add_signal_handler(signal.SIGHUP, broker.read_users_again)
    await broker.start()
    await stop.wait()
    await broker.shutdown()


if __name__ == "__main__":
    logging.basicConfig(level=logging.WARNING, format="%(asctime)s %(levelname)s %(name)s %(message)s")
    asyncio.run(serve(json.loads(Path(sys.argv[1]).read_text(encoding="utf-8"))))
