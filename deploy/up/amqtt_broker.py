"""Runs amqtt with the configuration that `deploy.up.broker` wrote, until SIGTERM.

amqtt 0.12 alone does not keep the promise of QoS 1. It forgets readings that it acknowledged to a gateway
which then disconnected, what it had sent to a session and not seen acknowledged within 5 s or before the
connection broke, and what arrived while the session was just reconnecting; and it marks what it had queued as
retained. `KeepingBroker` keeps each message until the session has acknowledged it. A restart of this broker
still empties its queues; a mosquitto keeps them on disk.
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

from amqtt.broker import Broker
from amqtt.contexts import Action
from amqtt.errors import AMQTTError
from amqtt.mqtt.protocol.broker_handler import BrokerProtocolHandler
from amqtt.session import Session

IN_FLIGHT = 1000
QUEUED_MESSAGES = 500_000


@dataclass(slots=True)
class Outbound:
    """What one session has not acknowledged yet, oldest first, and the connection it is being sent over."""

    handler: Any = None
    next_number: int = 0
    waiting: dict[int, tuple[str, bytes, int]] = field(default_factory=dict)
    window: asyncio.Semaphore = field(default_factory=lambda: asyncio.Semaphore(IN_FLIGHT))


class KeepingBroker(Broker):  # type: ignore[misc]
    """amqtt with at-least-once delivery to sessions that outlive their connection."""

    def __init__(self, configuration: dict[str, object]) -> None:
        super().__init__(configuration)
        self._outbound: dict[str, Outbound] = defaultdict(Outbound)
        self._sending: set[asyncio.Task[None]] = set()

    async def _publish_session_retained_messages(self, session: Session) -> None:
        """Take up what waits for a session; amqtt calls this once its connection is ready."""
        if session.clean_session:
            self._outbound.pop(session.client_id or "", None)
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
        await super()._handle_disconnect(client_session, handler, *more)
        if client_session.clean_session and outbound.handler is None:
            self._outbound.pop(client_session.client_id or "", None)

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
        task = asyncio.ensure_future(self._deliver(outbound, number))
        self._sending.add(task)
        task.add_done_callback(self._sending.discard)

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


async def serve(configuration: dict[str, object]) -> None:
    """Serve until SIGTERM or SIGINT, then close the listeners and sessions."""
    stop = asyncio.Event()
    loop = asyncio.get_running_loop()
    for number in (signal.SIGTERM, signal.SIGINT):
        loop.add_signal_handler(number, stop.set)
    broker = KeepingBroker(configuration)
    await broker.start()
    await stop.wait()
    await broker.shutdown()


if __name__ == "__main__":
    logging.basicConfig(level=logging.WARNING, format="%(asctime)s %(levelname)s %(name)s %(message)s")
    asyncio.run(serve(json.loads(Path(sys.argv[1]).read_text(encoding="utf-8"))))
