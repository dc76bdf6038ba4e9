"""A small HTTP server with the service's side of the worker's contract, and ways to misbehave."""

from __future__ import annotations

import hashlib
import json
import threading
import time
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any


class _Server(ThreadingHTTPServer):
    service: FakeService

    def handle_error(self, _request: object, _address: object) -> None:
        """Say nothing of links that a test has cut."""


class FakeService:
    """Hookups out, pairs and live values in; `script` answers the next posts with these statuses."""

    def __init__(self, port: int = 0) -> None:
        self.hookups: list[dict[str, Any]] = []
        self.mappings: list[dict[str, Any]] = []
        self.pairs: dict[str, dict[str, Any]] = {}
        self.posts: list[str] = []
        self.live: list[tuple[float, dict[str, Any]]] = []
        self.script: list[int] = []
        self.always: int | None = None
        self.not_modified = 0
        self.lock = threading.Lock()
        self.server = _Server(("127.0.0.1", port), _Handler)
        self.server.service = self
        self.server.daemon_threads = True
        self.port = self.server.server_address[1]
        self.thread = threading.Thread(
            target=self.server.serve_forever, kwargs={"poll_interval": 0.05}, daemon=True
        )

    @property
    def url(self) -> str:
        """Address of the service."""
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> FakeService:
        """Begin to answer."""
        self.thread.start()
        return self

    def stop(self) -> None:
        """Stop answering."""
        self.server.shutdown()
        self.server.server_close()
        self.thread.join(timeout=5)

    def post(self, key: str, body: dict[str, Any]) -> int:
        """Take one pair as the service would: a repeat of a key is answered but not stored again."""
        with self.lock:
            self.posts.append(key)
            if self.always is not None:
                return self.always
            if self.script:
                status = self.script.pop(0)
                if status != 201:
                    return status
            known = self.pairs.setdefault(key, body)
            return 201 if known == body else 422


class _Handler(BaseHTTPRequestHandler):
    protocol_version = "HTTP/1.1"

    @property
    def service(self) -> FakeService:
        assert isinstance(self.server, _Server)
        return self.server.service

    def log_message(self, *_args: object) -> None:
        pass

    def do_GET(self) -> None:
        kept = {"hookups": self.service.hookups, "mappings": self.service.mappings}
        asked = self.path.partition("?")[0].rpartition("/")[2]
        text = json.dumps({"items": kept.get(asked, []), "next": None})
        tag = '"' + hashlib.sha256(text.encode()).hexdigest()[:12] + '"'
        if self.headers.get("If-None-Match") == tag:
            self.service.not_modified += asked == "hookups"
            self._answer(304, None, tag)
        else:
            self._answer(200, text, tag)

    def do_POST(self) -> None:
        body = json.loads(self._body())
        status = self.service.post(self.headers["Idempotency-Key"], body)
        self._answer(status, json.dumps({"pair": body, "verdict": {}}))

    def do_PUT(self) -> None:
        self.service.live.append((time.monotonic(), json.loads(self._body())))
        self._answer(204, None)

    def _body(self) -> bytes:
        return self.rfile.read(int(self.headers.get("Content-Length", 0)))

    def _answer(self, status: int, text: str | None, tag: str | None = None) -> None:
        self.send_response(status)
        if tag:
            self.send_header("ETag", tag)
        data = text.encode() if text is not None else b""
        self.send_header("Content-Length", str(len(data)))
        self.end_headers()
        self.wfile.write(data)


def hookup(
    number: int, device: str, *, place: str = "shop", start: str = "2023-01-01T00:00:00Z"
) -> dict[str, Any]:
    """Return a hookup as the service tells it, one device serving both."""
    return {
        "id": number,
        "cylinder": f"C-{number}",
        "place": place,
        "pressure_device": device,
        "temperature_device": device,
        "valve": "vapour",
        "from": start,
        "to": None,
        "atmospheric_pressure_kpa": 101.325,
        "atmospheric_pressure_uncertainty_kpa": 1.0,
        "atmospheric_pressure_source": "elevation",
        "temperature_bias_uncertainty_k": None,
        "pressure_bias_uncertainty_kpa": None,
        "probe_lag_s": None,
    }
