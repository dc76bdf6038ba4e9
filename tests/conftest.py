"""What every test may ask for: fresh databases, wired services, an application and its clients."""

import os
from collections.abc import Callable, Iterator
from pathlib import Path

import hypothesis
import pytest
from flask import Flask
from flask.testing import FlaskClient

from service.app import create_app
from service.logs import configure_logs
from service.operations import bootstrap, places, tokens
from service.operations.support.context import Actor, Services
from service.settings import Settings
from service.store.database import Database
from service.wiring import wire
from tests.support import databases
from tests.support.clock import Clock
from tests.support.judge import ScriptedJudge

# A shared machine's pauses are no failures; speed is measured in the benchmarks.
hypothesis.settings.register_profile("heelmark", deadline=None)
# For whoever runs a folder a thousand times.
hypothesis.settings.register_profile("few", deadline=None, max_examples=25, database=None)
hypothesis.settings.load_profile("heelmark")

# As the servers log, and to whatever standard error a test has.
configure_logs()


@pytest.fixture(autouse=True, scope="session")
def _no_settings_of_this_machine() -> None:
    for name in [name for name in os.environ if name.startswith("HEELMARK_") and "_TEST_" not in name]:
        del os.environ[name]


@pytest.fixture(scope="session")
def postgres() -> Iterator[databases.Postgres]:
    """A PostgreSQL server that makes fresh, migrated databases."""
    with databases.some_postgres() as postgres:
        yield postgres


@pytest.fixture
def clock() -> Clock:
    """Stands at noon of 4 May 2026."""
    return Clock()


@pytest.fixture
def judge() -> ScriptedJudge:
    """Finds R-22 until told otherwise."""
    return ScriptedJudge()


@pytest.fixture
def database(tmp_path: Path) -> Iterator[Database]:
    """A fresh, migrated SQLite database."""
    database = Database(databases.fresh_sqlite(tmp_path))
    yield database
    database.dispose()


@pytest.fixture(params=["sqlite", pytest.param("postgres", marks=pytest.mark.postgres)])
def any_database(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Database]:
    """The same test on SQLite and on PostgreSQL."""
    if request.param == "sqlite":
        database = Database(databases.fresh_sqlite(tmp_path))
        yield database
        database.dispose()
        return
    postgres: databases.Postgres = request.getfixturevalue("postgres")
    with postgres.fresh() as url:
        database = Database(url)
        yield database
        database.dispose()


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    """Settings of a test's application."""
    return Settings(
        data=tmp_path,
        database_url="sqlite://",
        secret_key="s" * 40,
        stream_cap=4,
        stream_seconds=5.0,
        # Walking every route without a token is no attack here.
        failure_limit="10000 per minute",
    )


@pytest.fixture
def services(settings: Settings, database: Database, judge: ScriptedJudge, clock: Clock) -> Services:
    """Services over SQLite, a scripted judge and a clock that tests move."""
    return wire(settings, database=database, judge=judge, now=clock)


@pytest.fixture
def any_services(settings: Settings, any_database: Database, judge: ScriptedJudge, clock: Clock) -> Services:
    """The same over either database."""
    return wire(settings, database=any_database, judge=judge, now=clock)


def make_owner(services: Services, name: str = "home") -> Actor:
    """An organisation with a shop at sea level."""
    organisation_id = bootstrap.create_organisation(services, name)
    assert organisation_id is not None
    actor = Actor(organisation_id, "token:test", "administrator")
    places.create(services, actor, name="shop", kind="shop", elevation_m=0.0)
    return actor


@pytest.fixture
def actor(services: Services) -> Actor:
    """An administrator of the organisation ``home``."""
    return make_owner(services)


@pytest.fixture
def any_actor(any_services: Services) -> Actor:
    """The same on either database."""
    return make_owner(any_services)


@pytest.fixture
def app(settings: Settings, services: Services) -> Flask:
    """The application over the test's services."""
    app = create_app(settings, services)
    app.config["TESTING"] = False
    return app


@pytest.fixture
def client_as(app: Flask, services: Services, actor: Actor) -> Callable[..., FlaskClient]:
    """Makes a client that carries a token of a scope; of another owner's when one is given."""

    def make(scope: str, owner: Actor | None = None) -> FlaskClient:
        made = tokens.create(services, owner or actor, name=f"test {scope}", scope=scope)
        client = app.test_client()
        client.environ_base["HTTP_AUTHORIZATION"] = f"Bearer {made.secret}"
        return client

    return make


@pytest.fixture
def technician(client_as: Callable[..., FlaskClient]) -> FlaskClient:
    """A technician's client."""
    return client_as("technician")


@pytest.fixture
def worker(client_as: Callable[..., FlaskClient]) -> FlaskClient:
    """The worker's client."""
    return client_as("worker")
