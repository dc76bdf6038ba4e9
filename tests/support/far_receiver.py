"""A receiver of webhooks at the end of a long line: each opening of a connection and each answer takes its time."""

import http.server
import json
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any


@dataclass
class Heard:
    """What came in, and over how many connections."""

    url: str = ""
    connections: int = 0
    messages: int = 0
    sequences: list[int] = field(default_factory=list)


@contextmanager
def far_receiver(round_trip_s: float, *, most_a_connection: int | None = None) -> Iterator[Heard]:
    """
    Serve on this machine.

    Parameters
    ----------
    round_trip_s
        Waited for once when a connection opens and once for each answer [s].
    most_a_connection
        Close it after so many answers without having said so, as some servers do.
    """
    heard = Heard()

    class In(http.server.BaseHTTPRequestHandler):
        protocol_version = "HTTP/1.1"
        disable_nagle_algorithm = True

        def setup(self) -> None:
            super().setup()
            heard.connections += 1
            self.answered = 0
            time.sleep(round_trip_s)

        def do_POST(self) -> None:
            told: Any = json.loads(self.rfile.read(int(self.headers["Content-Length"])))
            events = (
                [one["sequence"] for one in told] if isinstance(told, list) else [self.headers["ce-sequence"]]
            )
            time.sleep(round_trip_s)
            heard.messages += 1
            heard.sequences += [int(one) for one in events]
            self.answered += 1
            self.send_response(200)
            self.send_header("Content-Length", "2")
            self.end_headers()
            self.wfile.write(b"ok")
            self.wfile.flush()
            if self.answered == most_a_connection:
                self.close_connection = True

        def log_message(self, *_: object) -> None:
            pass

    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), In)
    heard.url = f"http://127.0.0.1:{server.server_address[1]}/in"
    threading.Thread(target=server.serve_forever, daemon=True).start()
    try:
        yield heard
    finally:
        server.shutdown()
        server.server_close()
