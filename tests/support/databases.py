"""Fresh databases: SQLite is migrated once and copied, PostgreSQL is made and dropped."""

import os
import shutil
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from tempfile import mkdtemp

import sqlalchemy as sa

from service.store import migrate
from tests.support.postgres import postgres_server

POSTGRES = "HEELMARK_TEST_POSTGRES_URL"
"""Names a server to make databases on; otherwise the tests start one of their own."""


@cache
def migrated_sqlite() -> Path:
    """A migrated, empty SQLite file to copy."""
    path = Path(mkdtemp(prefix="heelmark-")) / "template.sqlite"
    migrate.upgrade(f"sqlite:///{path}")
    return path


def fresh_sqlite(folder: Path) -> str:
    """URL of a fresh database in a folder."""
    path = folder / "heelmark.sqlite"
    shutil.copy(migrated_sqlite(), path)
    return f"sqlite:///{path}"


class Postgres:
    """Makes migrated databases on one server, by copying a template."""

    def __init__(self, url: str) -> None:
        self._url = sa.make_url(url).set(drivername="postgresql+psycopg")
        self._template = f"heelmark_template_{uuid.uuid4().hex[:8]}"
        self._on_server(f'CREATE DATABASE "{self._template}"')
        migrate.upgrade(self._named(self._template))

    @contextmanager
    def fresh(self) -> Iterator[str]:
        """URL of a fresh database that is dropped afterwards."""
        name = f"heelmark_test_{uuid.uuid4().hex[:8]}"
        self._on_server(f'CREATE DATABASE "{name}" TEMPLATE "{self._template}"')
        try:
            yield self._named(name)
        finally:
            self._drop(name)

    def close(self) -> None:
        """Drop the template."""
        self._drop(self._template)

    def _named(self, name: str) -> str:
        return self._url.set(database=name).render_as_string(hide_password=False)

    def _drop(self, name: str) -> None:
        self._on_server(f'DROP DATABASE IF EXISTS "{name}" WITH (FORCE)')

    def _on_server(self, statement: str) -> None:
        engine = sa.create_engine(self._url, isolation_level="AUTOCOMMIT")
        with engine.connect() as connection:
            connection.execute(sa.text(statement))
        engine.dispose()


@contextmanager
def some_postgres() -> Iterator[Postgres]:
    """On the server that is named, else on one of our own; skips by name when there is none to run."""
    named = os.environ.get(POSTGRES)
    if named:
        postgres = Postgres(named)
        yield postgres
        postgres.close()
        return
    with postgres_server() as server:
        yield Postgres(server.fresh_url())
