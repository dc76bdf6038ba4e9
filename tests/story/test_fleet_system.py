"""
The story of a fleet system: service, deliverer and the fleet system itself are killed over and over.

It registers cylinders, corrects them and has pairs judged, by HTTP alone; it hears signed events; in the end its
own picture, built from events alone, is exactly the state that the service has.
"""

import json
import os
import random
import signal
import socket
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import requests

from tests.support.postgres import postgres_server

HERE = Path(__file__).parent
TOP = HERE.parents[1]
BIN = Path(sys.executable).parent
COUNT = 30
KILLS = 14


def free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as server:
        return server.getsockname()[1]


class Story:
    """Three processes that can be killed and started again."""

    def __init__(self, folder: Path, database_url: str) -> None:
        self.folder = folder
        self.port, self.fleet_port = free_port(), free_port()
        self.url = f"http://127.0.0.1:{self.port}"
        self.environment = {
            **{name: value for name, value in os.environ.items() if not name.startswith("HEELMARK_")},
            "TMPDIR": str(folder),
            "HEELMARK_DATA": str(folder / "data"),
            "HEELMARK_DATABASE_URL": database_url,
            "HEELMARK_HTTP_PORT": str(self.port),
            "HEELMARK_STREAM_CAP": "4",
            "HEELMARK_WEBHOOK_NAMED_HOSTS": "127.0.0.1",
            "HEELMARK_WEBHOOK_FIRST_RETRY_S": "0.1",
            "HEELMARK_WEBHOOK_TIMEOUT_S": "0.7",
        }
        self.heelmark("migrate")
        self.heelmark("first-run", "--output", str(folder / "first-run.json"))
        self.tokens = json.loads((folder / "first-run.json").read_text())["tokens"]
        self.commands = {
            "service": [str(BIN / "gunicorn"), "--config", "python:service.serving", "service.wsgi:app"],
            "deliverer": [str(BIN / "heelmark"), "deliver"],
            "fleet": [
                *(sys.executable, str(HERE / "fleet_system.py"), str(folder), str(self.fleet_port)),
                *(self.url, self.tokens["supervisor"], str(COUNT)),
            ],
        }
        self.running: dict[str, subprocess.Popen[bytes]] = {}
        self.killed: list[str] = []

    def heelmark(self, *arguments: str) -> None:
        command = [str(BIN / "heelmark"), *arguments]
        subprocess.run(command, env=self.environment, cwd=TOP, check=True, capture_output=True)

    def start(self, name: str) -> None:
        with (self.folder / f"{name}.log").open("ab") as log:
            self.running[name] = subprocess.Popen(
                self.commands[name],
                env=self.environment,
                cwd=TOP,
                stdout=log,
                stderr=log,
                start_new_session=True,
            )

    def kill(self, name: str) -> None:
        """With its children, without a chance to say goodbye."""
        os.killpg(self.running[name].pid, signal.SIGKILL)
        self.running[name].wait()
        self.killed.append(name)

    def log(self, name: str) -> str:
        return (self.folder / f"{name}.log").read_text(errors="replace")[-3000:]

    def get(self, path: str) -> Any:
        headers = {"Authorization": f"Bearer {self.tokens['supervisor']}"}
        answer = requests.get(f"{self.url}{path}", headers=headers, timeout=10)
        answer.raise_for_status()
        return answer.json()

    def fleet_says(self, query: str) -> list[Any]:
        with sqlite3.connect(self.folder / "fleet.sqlite", timeout=10) as db:
            return db.execute(query).fetchall()


@pytest.fixture(params=["sqlite", pytest.param("postgresql", marks=pytest.mark.postgres)])
def story(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Story]:
    if request.param == "sqlite":
        yield from told(Story(tmp_path, f"sqlite:///{tmp_path / 'story.sqlite'}"))
    else:
        with postgres_server() as server:
            yield from told(Story(tmp_path, server.fresh_url()))


def told(story: Story) -> Iterator[Story]:
    yield story
    for process in story.running.values():
        if process.poll() is None:
            os.killpg(process.pid, signal.SIGKILL)
            process.wait()


def until(condition: Callable[[], bool], within_s: float, story: Story, what: str) -> None:
    end = time.monotonic() + within_s
    while True:
        try:
            if condition():
                return
        except (requests.RequestException, sqlite3.Error):
            pass
        if time.monotonic() > end:
            logs = "\n".join(f"--- {name}\n{story.log(name)}" for name in story.running)
            raise AssertionError(f"{what} did not happen within {within_s} s\n{logs}")
        time.sleep(0.1)


@pytest.mark.slow
def test_whatever_is_killed_the_fleet_system_ends_with_exactly_the_services_state(story: Story) -> None:
    for name in story.commands:
        story.start(name)
    until(lambda: len(story.fleet_says("SELECT * FROM heard")) >= 5, 60, story, "the first events")
    chance = random.Random(3)
    for _ in range(KILLS):
        time.sleep(chance.uniform(0.2, 1.5))
        name = chance.choice(sorted(story.commands))
        story.kill(name)
        time.sleep(chance.uniform(0.0, 0.6))
        story.start(name)
    assert story.fleet_says("SELECT 1 FROM wishes WHERE NOT done"), "all this happened while it worked"
    until(
        lambda: not story.fleet_says("SELECT 1 FROM wishes WHERE NOT done"), 120, story, "the fleet's wishes"
    )
    until(lambda: delivered_everything(story), 60, story, "the delivery of everything")
    assert set(story.killed) == {"service", "deliverer", "fleet"}
    assert mirrored(story) == at_the_service(story)
    assert_in_order_and_whole(story)


def delivered_everything(story: Story) -> bool:
    (webhook,) = story.get("/api/v1/webhooks")["items"]
    return bool(webhook["delivered_up_to"] >= newest_event(story))


def newest_event(story: Story) -> int:
    return int(story.get("/api/v1/audit?limit=1")["items"][0]["id"])


FIELDS = ("marks", "water_capacity_kg", "tare_kg", "notes")


def mirrored(story: Story) -> dict[str, Any]:
    states = {serial: json.loads(text) for serial, text in story.fleet_says("SELECT * FROM mirror")}
    return {
        serial: {**{name: state.get(name) for name in FIELDS}, "verdict": state.get("verdict")}
        for serial, state in states.items()
    }


def at_the_service(story: Story) -> dict[str, Any]:
    state = {}
    for cylinder in story.get("/api/v1/cylinders?limit=200")["items"]:
        serial = cylinder["serial"]
        verdicts = story.get(f"/api/v1/cylinders/{serial}/verdicts")["items"]
        state[serial] = {**{name: cylinder[name] for name in FIELDS}, "verdict": None}
        if verdicts:
            newest = verdicts[0]
            identity = newest["identity"]
            found = identity["finding"] == "identified"
            state[serial]["verdict"] = {
                "verdict": newest["id"],
                "identity": identity["finding"],
                "designation": identity["candidates"][0]["designation"] if found else None,
                "disposition": newest["disposition"]["code"],
            }
    assert len(state) == COUNT
    return state


def assert_in_order_and_whole(story: Story) -> None:
    """Every public event of the log arrived, each once in the books, in the order of the log."""
    heard = story.fleet_says("SELECT sequence, type FROM heard ORDER BY rowid")
    assert [sequence for sequence, _ in heard] == sorted(sequence for sequence, _ in heard)
    log, after = [], 0
    while True:
        page = story.get(f"/api/v1/event-log?limit=200&after={after}")
        log += page["items"]
        if page["next"] is None:
            break
        after = page["next"]
    first = heard[0][0]
    public = {kind for _, kind in heard}
    assert [e["id"] for e in log if e["id"] >= first and e["type"] in public] == [s for s, _ in heard]
