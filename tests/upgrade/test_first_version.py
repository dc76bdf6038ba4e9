"""What the first version wrote is read by this one: the worker goes on where it stood, the service knows it all."""

import json
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pytest
from flask.testing import FlaskClient

from ingest.runtime.worker import Worker
from service.app import create_app
from service.operations import tokens
from service.operations.support.context import Actor
from service.settings import Settings
from service.store import migrate
from service.store.database import Database
from service.wiring import wire
from tests.support.feeding import one_device
from tests.support.judge import ScriptedJudge
from tests.support.workers import made_worker

DATA = Path(__file__).parent / "data"
FIRST_S = 1796034617.2868512
"""When the readings of its three devices began: see the README beside the dumps."""
AFTERWARDS_S = FIRST_S + 2000.0


def written(name: str, path: Path) -> Path:
    """A file as the first version left it."""
    with closing(sqlite3.connect(path)) as db:
        db.executescript((DATA / f"{name}.sql").read_text(encoding="utf-8"))
    return path


def outbox(path: Path) -> dict[str, str]:
    """The body of each pair, as it is posted, by its key."""
    with closing(sqlite3.connect(path)) as db:
        return dict(db.execute("SELECT key, body FROM outbox").fetchall())


@pytest.fixture
def worker(tmp_path: Path) -> Iterator[Worker]:
    written("worker", tmp_path / "w.sqlite")
    with closing(sqlite3.connect(tmp_path / "w.sqlite")) as db:
        (hookups,) = db.execute("SELECT value FROM fact WHERE name = 'hookups'").fetchone()
    made = made_worker(tmp_path, json.loads(hookups), AFTERWARDS_S)
    yield made
    made.journal.close()


def test_the_worker_keeps_its_outbox_and_makes_a_pair_of_a_hookup_that_it_was_in_the_middle_of(
    worker: Worker, tmp_path: Path
) -> None:
    before = outbox(tmp_path / "w.sqlite")
    assert worker.journal.outbox_counts() == {"posted": 1, "waiting": 1}
    packs = one_device("urn:dev:ops:32473-first-2", seed=5, duration_s=1200, start_s=FIRST_S)
    worker.listener.deliver(packs[25:])
    while worker.turn():
        pass
    after = outbox(tmp_path / "w.sqlite")
    assert {key: after[key] for key in before} == before
    (new,) = after.keys() - before.keys()
    pair = json.loads(after[new])
    assert pair["hookup"] == 2
    # The packs that only the first version had taken are part of it.
    assert datetime.fromisoformat(pair["from"]).timestamp() < packs[25].stamp_s


@pytest.fixture
def client(tmp_path: Path) -> Iterator[FlaskClient]:
    """A technician at the service over the first version's database."""
    url = f"sqlite:///{written('service', tmp_path / 'heelmark.sqlite')}"
    migrate.upgrade(url)
    database = Database(url)
    assert migrate.at_head(database.engine)
    settings = Settings(data=tmp_path, database_url=url, secret_key="s" * 40)
    services = wire(
        settings,
        database=database,
        judge=ScriptedJudge(),
        now=lambda: datetime.fromtimestamp(AFTERWARDS_S, UTC),
    )
    made = tokens.create(services, Actor(1, "token:test", "administrator"), name="t", scope="worker")
    reader = tokens.create(services, Actor(1, "token:test", "administrator"), name="r", scope="supervisor")
    client = create_app(settings, services).test_client()
    client.environ_base["HTTP_AUTHORIZATION"] = f"Bearer {reader.secret}"
    client.worker_secret = made.secret  # type: ignore[attr-defined]
    yield client
    database.dispose()


def test_the_service_knows_what_the_first_version_knew(client: FlaskClient) -> None:
    listed = client.get("/api/v1/cylinders").get_json()["items"]
    assert sorted(one["serial"] for one in listed) == ["F-1", "F-2", "F-3"]
    hookups = client.get("/api/v1/hookups?active=true").get_json()["items"]
    assert sorted(one["cylinder"] for one in hookups) == ["F-1", "F-2", "F-3"]
    (pair,) = client.get("/api/v1/cylinders/F-1/pairs").get_json()["items"]
    assert pair["temperature_c"] == pytest.approx(21.1706, abs=1e-4)
    verdict = client.get("/api/v1/cylinders/F-1/verdict")
    assert verdict.status_code == 200, verdict.text
    assert "R-134a" in [one["designation"] for one in verdict.get_json()["identity"]["candidates"]]


def test_what_the_first_versions_worker_posts_again_is_neither_lost_nor_doubled(
    client: FlaskClient, worker: Worker, tmp_path: Path
) -> None:
    headers = {"Authorization": f"Bearer {client.worker_secret}"}  # type: ignore[attr-defined]
    for _ in range(2):
        for key, body in outbox(tmp_path / "w.sqlite").items():
            answer = client.post(
                "/api/v1/equilibrium-pairs",
                data=body,
                content_type="application/json",
                headers=headers | {"Idempotency-Key": key},
            )
            assert answer.status_code == 201, answer.text
    for serial, count in (("F-1", 1), ("F-2", 0), ("F-3", 1)):
        assert len(client.get(f"/api/v1/cylinders/{serial}/pairs").get_json()["items"]) == count
