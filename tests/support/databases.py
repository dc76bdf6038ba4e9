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

POSTGRES = "HEELMARK_TEST_POSTGRES_URL"
DEFAULT_POSTGRES = "postgresql+psycopg://postgres@127.0.0.1:5432/postgres"


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


def postgres_url() -> sa.URL:
    """Where tests may make databases."""
    return sa.make_url(os.environ.get(POSTGRES, DEFAULT_POSTGRES)).set(drivername="postgresql+psycopg")


@cache
def why_no_postgres() -> str | None:
    """The reason why there is no PostgreSQL to test on; none when there is."""
    engine = sa.create_engine(postgres_url(), connect_args={"connect_timeout": 3})
    try:
        with engine.connect() as connection:
            connection.execute(sa.text("SELECT 1"))
    except sa.exc.OperationalError as error:
        return f"no PostgreSQL at {postgres_url()}: {str(error.orig).splitlines()[0]}"
    finally:
        engine.dispose()
    return None


@cache
def postgres_template() -> str:
    """Name of a migrated, empty database to copy; dropped at the end of the session."""
    name = f"heelmark_template_{uuid.uuid4().hex[:8]}"
    _on_server(f'CREATE DATABASE "{name}"')
    migrate.upgrade(postgres_url().set(database=name).render_as_string(hide_password=False))
    return name


@contextmanager
def fresh_postgres() -> Iterator[str]:
    """URL of a fresh database that is dropped afterwards."""
    name = f"heelmark_test_{uuid.uuid4().hex[:8]}"
    _on_server(f'CREATE DATABASE "{name}" TEMPLATE "{postgres_template()}"')
    try:
        yield postgres_url().set(database=name).render_as_string(hide_password=False)
    finally:
        drop_postgres(name)


def drop_postgres(name: str) -> None:
    """Remove a database with whoever is still connected."""
    _on_server(f'DROP DATABASE IF EXISTS "{name}" WITH (FORCE)')


def _on_server(statement: str) -> None:
    engine = sa.create_engine(postgres_url(), isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        connection.execute(sa.text(statement))
    engine.dispose()
