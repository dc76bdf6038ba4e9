"""A small TCP proxy of our own that can cut, hold, refuse or slow what passes."""

from __future__ import annotations

import asyncio
import contextlib
import socket
import struct
import threading

SETTLE_S = 0.02


class Proxy:
    """Listens on a free port of 127.0.0.1 and passes everything to `target_port` until told otherwise."""

    def __init__(self, target_port: int) -> None:
        self.target_port = target_port
        self.port = 0
        self._loop = asyncio.new_event_loop()
        self._open = asyncio.Event()
        self._writers: set[asyncio.StreamWriter] = set()
        self._refusing = False
        self._delay_s = 0.0
        self._ready = threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)

    def start(self) -> Proxy:
        """Begin to listen."""
        self._thread.start()
        assert self._ready.wait(5)
        return self

    def stop(self) -> None:
        """Cut everything and end."""
        self.cut()
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join(timeout=5)

    def cut(self) -> None:
        """Close all connections; new ones are taken."""
        self._loop.call_soon_threadsafe(self._abort)

    def reset(self) -> None:
        """End all connections with a reset (RST) instead of a close; new ones are taken."""
        self._loop.call_soon_threadsafe(self._reset)

    def refuse(self, on: bool) -> None:
        """Close all connections and new ones at once, or stop doing so."""
        self._refusing = on
        if on:
            self.cut()

    def hold(self, on: bool) -> None:
        """Let nothing pass while the connections stay open, as a black hole does, or let it pass again."""
        self._loop.call_soon_threadsafe(self._open.clear if on else self._open.set)

    def delay(self, seconds: float) -> None:
        """Delay every piece by so much."""
        self._delay_s = seconds

    def _run(self) -> None:
        asyncio.set_event_loop(self._loop)
        server = self._loop.run_until_complete(asyncio.start_server(self._serve, "127.0.0.1", self.port))
        self.port = server.sockets[0].getsockname()[1]
        self._open.set()
        self._ready.set()
        self._loop.run_forever()
        # A connection that is taken while the server closes would never be closed itself.
        self._loop.remove_reader(server.sockets[0].fileno())
        self._loop.run_until_complete(self._end())
        server.close()
        self._loop.close()

    async def _end(self) -> None:
        """End every connection, with a turn for those just taken to begin and for aborted sockets to close."""
        await asyncio.sleep(SETTLE_S)
        for task in (tasks := asyncio.all_tasks() - {asyncio.current_task()}):
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)
        await asyncio.sleep(SETTLE_S)

    def _abort(self) -> None:
        for writer in list(self._writers):
            writer.transport.abort()

    def _reset(self) -> None:
        for writer in list(self._writers):
            end = writer.get_extra_info("socket")
            with contextlib.suppress(OSError, AttributeError):  # it has just been closed
                end.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
        self._abort()

    async def _serve(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        ends = {writer}
        try:
            with contextlib.suppress(OSError, asyncio.CancelledError):
                if not self._refusing:
                    far_reader, far_writer = await asyncio.open_connection("127.0.0.1", self.target_port)
                    ends.add(far_writer)
                    self._writers |= ends
                    await asyncio.gather(self._pump(reader, far_writer), self._pump(far_reader, writer))
        finally:
            self._writers -= ends
            for end in ends:
                end.transport.abort()

    async def _pump(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        try:
            with contextlib.suppress(OSError, asyncio.CancelledError):
                while data := await reader.read(65536):
                    await self._open.wait()
                    if self._delay_s:
                        await asyncio.sleep(self._delay_s)
                    writer.write(data)
                    await writer.drain()
        finally:
            # Also where one end was reset, as that of a process killed with unread bytes is.
            writer.transport.abort()
