"""
A gunicorn worker that slow clients cannot tie up: threads see whole requests and hand over whole answers.

gunicorn's own threaded worker reads and writes in its threads, so that as many slow clients as there are threads stop
the service, and closes connections in its only loop with a wait of up to two seconds each. Here one loop reads requests
until they are whole, sends what a client has not taken yet, and closes; a thread computes, or follows an event stream.
"""

import errno
import selectors
import socket
import sys
import time
from concurrent.futures import Future
from functools import partial
from typing import Any

from gunicorn.workers.gthread import TConn, ThreadWorker

from service.arrivals import Arrival, Progress

HEAD_WITHIN_S = 15.0
"""From the first byte, or from the connection's begin, to the end of the headers."""
BODY_WITHIN_S = 30.0
SLOWEST_BODY_BPS = 20_000
"""A body gets the time that it takes at this rate besides, [bytes/s]."""
LARGE_WITHIN_S = 300.0
"""A body larger than what is kept, which only imports accept, is read by its thread within this time."""
SENT_WITHIN_S = 30.0
SLOWEST_READER_BPS = 2_000
"""An answer gets the time that it takes at this rate besides, [bytes/s]."""
MOST_UNSENT = 16_000_000
"""What may wait for a client that reads slowly; past it the thread waits, for SENT_WITHIN_S [bytes]."""
MOST_HELD = 64_000_000
"""Of all connections that wait; past it the one that holds most ends [bytes]."""
LINGER_S = 2.0
AT_ONCE = 65_536


class Channel:
    """A client's socket; writing never waits while little is unsent, reading waits no longer than it may."""

    def __init__(self, plain: socket.socket) -> None:
        self._plain = plain
        self.unsent = bytearray()
        self.read_until = 0.0

    def __getattr__(self, name: str) -> Any:
        return getattr(self._plain, name)

    def setblocking(self, flag: bool) -> None:
        """Wait in `recv`, as long as is allowed, or not at all."""
        self._plain.settimeout(max(0.1, self.read_until - time.monotonic()) if flag else 0.0)

    def recv(self, size: int) -> bytes:
        """Read what is there; a client that took too long counts as gone."""
        if self._plain.gettimeout() and time.monotonic() > self.read_until:
            raise ConnectionResetError(errno.ECONNRESET, "the client sends too slowly")
        try:
            return self._plain.recv(size)
        except TimeoutError:
            raise ConnectionResetError(errno.ECONNRESET, "the client sends too slowly") from None

    def send(self, data: bytes) -> int:
        """Send or keep for sending."""
        self.sendall(data)
        return len(data)

    def sendall(self, data: bytes) -> None:
        """Send or keep for sending; waits for a client that has not taken what was kept before."""
        self.unsent += data
        give_up = time.monotonic() + SENT_WITHIN_S
        while self.flush() > MOST_UNSENT:
            with selectors.DefaultSelector() as waiting:
                waiting.register(self._plain, selectors.EVENT_WRITE)
                if not waiting.select(max(0.0, give_up - time.monotonic())):
                    raise BrokenPipeError(errno.EPIPE, "the client reads too slowly")

    def flush(self) -> int:
        """Send what the system takes now; how many bytes are left."""
        patience = self._plain.gettimeout()
        self._plain.settimeout(0.0)
        try:
            while self.unsent:
                del self.unsent[: self._plain.send(self.unsent)]
        except BlockingIOError:
            pass
        finally:
            self._plain.settimeout(patience)
        return len(self.unsent)


class Connection(TConn):  # type: ignore[misc]
    """A connection with the request that is coming in over it."""

    def __init__(self, worker: "BufferingWorker", sock: socket.socket, client: Any, server: Any) -> None:
        super().__init__(worker.cfg, Channel(sock), client, server)
        self.data_ready = True  # gunicorn's thread need not wait for it
        self.arrival = Arrival(worker.largest_body)
        self.is_last = False
        self.deadline = 0.0
        self.counted = 0

    @property
    def held(self) -> int:
        """What is kept of it in memory [bytes]."""
        return len(self.arrival) + len(self.sock.unsent)

    def init(self) -> None:
        """Hand the request that has come in to gunicorn's parser."""
        super().init()
        self.parser.unreader.unread(self.arrival.take())


class BufferingWorker(ThreadWorker):  # type: ignore[misc]
    """gunicorn's threaded worker with a loop that does all waiting for clients."""

    largest_body = 1_000_000

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.cfg.is_ssl:
            raise ValueError("this worker reads plain HTTP: TLS belongs to a proxy in front of it")
        self._most: int = self.cfg.worker_connections
        # Never stop accepting: when all places are taken the slowest client loses its own.
        self.worker_connections = sys.maxsize
        self._waiting: dict[Connection, None] = {}
        self._held = 0
        self._swept = 0.0

    def accept(self, listener: Any) -> None:
        """Take a connection, and a place from the one that has waited longest where there is none."""
        try:
            sock, client = listener.accept()
        except OSError as fault:
            if fault.errno not in (errno.EAGAIN, errno.EWOULDBLOCK, errno.ECONNABORTED):
                raise
            return
        if self.nr_conns >= self._most and not self._put_one_out():
            sock.close()
            return
        self.nr_conns += 1
        sock.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        conn = Connection(self, sock, client, listener.getsockname())
        self._await_request(conn, HEAD_WITHIN_S)

    def _put_one_out(self) -> bool:
        conn = next(iter(self._waiting), None)
        if conn is not None:
            self._drop(conn)
        return conn is not None

    def _await_request(self, conn: Connection, within_s: float) -> None:
        conn.sock.setblocking(False)
        self._wait(conn, selectors.EVENT_READ, self._on_request_bytes, within_s)
        if conn in self._waiting:
            self._take_request(conn)

    def _wait(self, conn: Connection, event: int, then: Any, within_s: float) -> None:
        conn.deadline = time.monotonic() + within_s
        self._waiting[conn] = None
        self.poller.register(conn.sock, event, partial(self._guarded, then, conn))
        self._count(conn)

    def _guarded(self, then: Any, conn: Connection, _sock: Any) -> None:
        """Do the next step of a connection; one that has broken ends, and no other."""
        try:
            then(conn)
        except OSError:
            self._drop(conn)

    def _stop_waiting(self, conn: Connection) -> None:
        if self._waiting.pop(conn, False) is None:
            self.poller.unregister(conn.sock)
            self._held -= conn.counted
            conn.counted = 0

    def _count(self, conn: Connection) -> None:
        """Keep the sum of what waiting connections hold within its bound."""
        self._held += conn.held - conn.counted
        conn.counted = conn.held
        if self._held > MOST_HELD:
            self._drop(max(self._waiting, key=lambda one: one.counted))

    def _drop(self, conn: Connection) -> None:
        self._stop_waiting(conn)
        self.nr_conns -= 1
        conn.close()

    def _on_request_bytes(self, conn: Connection) -> None:
        try:
            data = conn.sock.recv(AT_ONCE)
        except BlockingIOError:
            return
        if not data:
            self._drop(conn)
            return
        if not conn.arrival.begun:
            conn.deadline = time.monotonic() + HEAD_WITHIN_S
        had_head = conn.arrival.has_head
        conn.arrival.add(data)
        self._count(conn)
        if conn in self._waiting:
            self._take_request(conn)
        if conn in self._waiting and conn.arrival.has_head and not had_head:
            conn.deadline = time.monotonic() + BODY_WITHIN_S + self.largest_body / SLOWEST_BODY_BPS
            if conn.arrival.expects_continue:
                conn.sock.sendall(b"HTTP/1.1 100 Continue\r\n\r\n")

    def _take_request(self, conn: Connection) -> None:
        """Give a request that is whole to a thread."""
        progress = conn.arrival.progress()
        if progress is Progress.MORE:
            return
        self._stop_waiting(conn)
        if progress.is_refusal:
            conn.sock.sendall(
                f"HTTP/1.1 {progress.value}\r\nConnection: close\r\nContent-Length: 0\r\n\r\n".encode()
            )
            self._go_on(conn, keep=False)
            return
        conn.is_last = progress is Progress.LARGE
        conn.sock.read_until = time.monotonic() + LARGE_WITHIN_S
        self.enqueue_req(conn)

    def _keepalive_after(self, conn: Connection, keepalive: Any) -> bool:
        # A body that was not waited for is not read to its end either.
        return not conn.is_last and bool(super()._keepalive_after(conn, keepalive))

    def finish_request(self, conn: Connection, fs: "Future[Any]") -> None:
        """Go on with a connection that a thread is done with."""
        try:
            keep = not fs.cancelled() and bool(fs.result()) and not conn.is_last
            if left := conn.sock.flush():
                within_s = SENT_WITHIN_S + left / SLOWEST_READER_BPS
                self._wait(conn, selectors.EVENT_WRITE, partial(self._send_rest, keep), within_s)
            else:
                self._go_on(conn, keep=keep)
        except (OSError, ValueError):
            self._drop(conn)

    def _send_rest(self, keep: bool, conn: Connection) -> None:
        if not conn.sock.flush():
            self._stop_waiting(conn)
            self._go_on(conn, keep=keep)

    def _go_on(self, conn: Connection, *, keep: bool) -> None:
        """Await the next request, or close so that the client gets all of the answer (RFC 9112, section 9.6)."""
        if keep:
            conn.arrival = Arrival(self.largest_body, conn.parser.unreader.take_buffered())
            idle_s = self.cfg.keepalive if self.alive else min(self.cfg.keepalive, LINGER_S)
            self._await_request(conn, HEAD_WITHIN_S if conn.arrival.begun else idle_s)
            return
        conn.sock.shutdown(socket.SHUT_WR)
        conn.sock.setblocking(False)
        self._wait(conn, selectors.EVENT_READ, self._drain, LINGER_S)

    def _drain(self, conn: Connection) -> None:
        try:
            if not conn.sock.recv(AT_ONCE):
                self._drop(conn)
        except BlockingIOError:
            return

    def murder_pending(self) -> None:
        """Close connections whose time is over."""
        now = time.monotonic()
        if now - self._swept < 0.5:
            return
        self._swept = now
        for conn in [conn for conn in self._waiting if conn.deadline < now]:
            self._drop(conn)

    def murder_keepalived(self, force: bool = False) -> None:
        """Close every waiting connection, when the worker ends."""
        for conn in list(self._waiting) if force else ():
            self._drop(conn)

    def _cap_keepalive(self, deadline: float) -> None:
        """Let no idle connection hold up a worker that stops."""
        for conn in self._waiting:
            if not conn.arrival.begun:
                conn.deadline = min(conn.deadline, deadline)
