"""Every migration up and down with data, on both databases; the old code's statements on the new schema."""

from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path

import pytest
import sqlalchemy as sa
from alembic.script import ScriptDirectory

from service.store import migrate, tables
from service.store.engine import make_engine
from tests.support.postgres import PostgresServer, postgres_server
from tests.support.sample_rows import contents, fill, reflected, value_for

SCRIPTS = ScriptDirectory(str(migrate.MIGRATIONS))
REVISIONS = [script.revision for script in reversed(list(SCRIPTS.walk_revisions()))]
STEPS = list(pairwise(REVISIONS))
KINDS = ["sqlite", pytest.param("postgresql", marks=pytest.mark.postgres)]


@pytest.fixture(scope="module")
def postgres() -> Iterator[PostgresServer]:
    with postgres_server() as server:
        yield server


@pytest.fixture(params=KINDS)
def url(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    if request.param == "sqlite":
        return f"sqlite:///{tmp_path / 'test.sqlite'}"
    return request.getfixturevalue("postgres").fresh_url()


def test_there_is_one_line_of_revisions() -> None:
    assert len(SCRIPTS.get_heads()) == 1
    assert len(SCRIPTS.get_bases()) == 1


def test_up_and_down_step_by_step_keeps_the_rows_of_what_stays(url: str) -> None:
    engine = make_engine(url)
    for number, revision in enumerate(REVISIONS):
        migrate.upgrade(url, revision)
        with engine.execution_options(writing=True).begin() as connection:
            fill(connection, range(10 * number + 1, 10 * number + 6))
    for lower, _ in reversed(STEPS):
        with engine.connect() as connection:
            before = {name: len(rows) for name, rows in contents(connection).items()}
        migrate.downgrade(url, lower)
        with engine.connect() as connection:
            after = {name: len(rows) for name, rows in contents(connection).items()}
        assert after == {name: before[name] for name in after}
    migrate.downgrade(url, "base")
    with engine.connect() as connection:
        assert reflected(connection) == {}
    engine.dispose()


def test_the_newest_schema_is_the_one_that_the_code_has(url: str) -> None:
    migrate.upgrade(url)
    engine = make_engine(url)
    with engine.connect() as connection:
        laid = {name: set(table.c.keys()) for name, table in reflected(connection).items()}
    assert laid == {table.name: set(table.c.keys()) for table in tables.metadata.tables.values()}
    engine.dispose()


@pytest.mark.parametrize(("older", "newer"), STEPS)
def test_the_code_of_a_revision_works_on_the_next_schema(url: str, older: str, newer: str) -> None:
    """During a rolling upgrade the old pods still write: their inserts and reads must go on working."""
    migrate.upgrade(url, older)
    engine = make_engine(url).execution_options(writing=True)
    with engine.begin() as connection:
        fill(connection, range(1, 4))
        known = reflected(connection)
        before = contents(connection)
    migrate.upgrade(url, newer)
    with engine.begin() as connection:
        naive = connection.dialect.name == "sqlite"
        for name, table in known.items():
            rows = list(connection.execute(sa.select(*table.c)))
            assert len(rows) == len(before[name])
            row = {c.name: value_for(c, 100, naive) for c in table.columns}
            connection.execute(sa.insert(table).values(**row))
    engine.dispose()
