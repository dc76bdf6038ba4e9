"""
A small fleet-management system of its own, to build on Heelmark from the outside.

It knows Heelmark by HTTP alone, keeps everything in its own file, and may be killed at any moment: what it wants
done and what it has heard are committed before it says so. Events are checked with the ``standardwebhooks`` and
``cloudevents`` packages. Run as ``python fleet_system.py FOLDER PORT SERVICE_URL TOKEN COUNT``.
"""

import http.server
import json
import sqlite3
import sys
import threading
import time
from pathlib import Path
from typing import Any

import requests
from cloudevents.core.bindings.http import HTTPMessage, from_http
from cloudevents.core.formats.json import JSONFormat
from standardwebhooks import Webhook, WebhookVerificationError

SECRET = "whsec_" + "QUJDREVGR0hJSktMTU5PUFFSU1RVVldYWVphYmNkZWY="
PACE_S = 0.25
SCHEMA = """
CREATE TABLE IF NOT EXISTS wishes (id INTEGER PRIMARY KEY, step TEXT, serial TEXT, done INTEGER DEFAULT 0);
CREATE TABLE IF NOT EXISTS heard (id TEXT PRIMARY KEY, sequence INTEGER, type TEXT, times INTEGER DEFAULT 1);
CREATE TABLE IF NOT EXISTS mirror (serial TEXT PRIMARY KEY, state TEXT);
CREATE TABLE IF NOT EXISTS facts (name TEXT PRIMARY KEY, value TEXT);
"""


class Fleet:
    """What the fleet system knows."""

    def __init__(self, folder: Path, service: str, token: str, count: int) -> None:
        self.path, self.service, self.count = folder / "fleet.sqlite", service, count
        self.headers = {"Authorization": f"Bearer {token}"}
        self.lock = threading.Lock()
        with self.opened() as db:
            db.executescript(SCHEMA)
            if db.execute("SELECT count(*) FROM wishes").fetchone() == (0,):
                steps = [
                    (step, f"FS-{number:04d}")
                    for number in range(count)
                    for step in ("register", "correct", "pair")
                    if step != "pair" or number % 3 == 0
                ]
                db.executemany("INSERT INTO wishes (step, serial) VALUES (?, ?)", steps)

    def opened(self) -> sqlite3.Connection:
        db = sqlite3.connect(self.path, timeout=10)
        db.execute("PRAGMA synchronous=FULL")
        return db

    # What it hears.

    def hear(self, headers: dict[str, str], body: bytes) -> int:
        try:
            Webhook(SECRET).verify(body, headers, json_parse=False)
        except WebhookVerificationError:
            return 401
        event = from_http(HTTPMessage(headers=headers, body=body), JSONFormat())
        data = event.get_data()
        data = data if isinstance(data, dict) else json.loads(data)
        with self.lock, self.opened() as db:
            seen = db.execute("UPDATE heard SET times = times + 1 WHERE id = ?", (event.get_id(),)).rowcount
            if not seen:
                sequence = int(event.get_extension("sequence"))
                row = (event.get_id(), sequence, event.get_type())
                db.execute("INSERT INTO heard (id, sequence, type) VALUES (?, ?, ?)", row)
                self.mirror(db, event.get_type(), event.get_subject() or "", data)
        return 204

    def mirror(self, db: sqlite3.Connection, kind: str, subject: str, data: dict[str, Any]) -> None:
        noun, _, serial = subject.partition("/")
        if noun != "cylinders":
            return
        row = db.execute("SELECT state FROM mirror WHERE serial = ?", (serial,)).fetchone()
        state = json.loads(row[0]) if row else {}
        if kind == "heelmark.cylinder.changed":
            state |= {name: value for name, value in data.items() if name not in ("change", "cylinder")}
        elif kind == "heelmark.verdict.reached":
            state["verdict"] = {k: data[k] for k in ("verdict", "identity", "designation", "disposition")}
        db.execute("INSERT OR REPLACE INTO mirror VALUES (?, ?)", (serial, json.dumps(state)))

    # What it wants done.

    def work(self, own_url: str) -> None:
        while not self.subscribe(own_url):
            time.sleep(0.1)
        while True:
            with self.opened() as db:
                wish = db.execute("SELECT id, step, serial FROM wishes WHERE NOT done ORDER BY id").fetchone()
            if wish is None:
                return
            number, step, serial = wish
            if self.done(getattr(self, step), number, serial):
                with self.opened() as db:
                    db.execute("UPDATE wishes SET done = 1 WHERE id = ?", (number,))
            time.sleep(PACE_S)

    def done(self, step: Any, number: int, serial: str) -> bool:
        try:
            answer: requests.Response = step(number, serial)
        except requests.RequestException:
            return False
        if 400 <= answer.status_code < 500 and answer.status_code not in (412, 429):
            sys.exit(f"{step.__name__} {serial}: {answer.status_code} {answer.text}")
        return answer.status_code < 400

    def call(self, method: str, path: str, **options: Any) -> requests.Response:
        headers = {**self.headers, **options.pop("headers", {})}
        return requests.request(
            method, f"{self.service}/api/v1{path}", headers=headers, timeout=10, **options
        )

    def subscribe(self, own_url: str) -> bool:
        try:
            known = self.call("GET", "/webhooks").json()["items"]
            if not known:
                self.call("POST", "/webhooks", json={"url": own_url, "secret": SECRET}).raise_for_status()
        except (requests.RequestException, KeyError, ValueError):
            return False
        return True

    def register(self, number: int, serial: str) -> requests.Response:
        body = {
            "serial": serial,
            "marks": "DOT-4BA400",
            "water_capacity_kg": 21.6,
            "tare_kg": 12.0 + number / 100,
        }
        return self.call("POST", "/cylinders", json=body, headers={"Idempotency-Key": f"wish-{number}"})

    def correct(self, number: int, serial: str) -> requests.Response:
        read = self.call("GET", f"/cylinders/{serial}")
        if read.status_code != 200:
            return read
        changes = {"notes": f"shelf {number}", "tare_kg": 13.0 + number / 100}
        return self.call(
            "PATCH", f"/cylinders/{serial}", json=changes, headers={"If-Match": read.headers["ETag"]}
        )

    def pair(self, number: int, serial: str) -> requests.Response:
        read_well = {"in_sun": False, "at_rest_minutes": 120, "clamp_insulated": True}
        body = {
            "cylinder": serial,
            "temperature_c": 24.8,
            "absolute_pressure_kpa": 1044.0,
            "conditions": read_well,
        }
        headers = {"Idempotency-Key": f"wish-{number}"}
        return self.call("POST", "/equilibrium-pairs", json=body, headers=headers)


def main() -> None:
    folder, port, service, token, count = sys.argv[1:]
    fleet = Fleet(Path(folder), service, token, int(count))

    class In(http.server.BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            body = self.rfile.read(int(self.headers["Content-Length"]))
            status = fleet.hear(dict(self.headers.items()), body)
            self.send_response(status)
            self.send_header("Content-Length", "0")
            self.end_headers()

        def log_message(self, *_: object) -> None:
            pass

    server = http.server.ThreadingHTTPServer(("127.0.0.1", int(port)), In)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    fleet.work(f"http://127.0.0.1:{port}/in")
    print("all done", flush=True)
    threading.Event().wait()


if __name__ == "__main__":
    main()
