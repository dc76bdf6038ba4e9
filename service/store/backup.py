"""
Backup and restore: one compressed file, the same for SQLite and PostgreSQL.

The file is JSON Lines: a head with the schema's revision, each table by name followed by its rows, and an
end with the counts and a digest. It is read in one snapshot while the service runs. A restore lays the schema
at the file's revision into an empty database, fills it, and only then upgrades, so that any later version can
read it; it may be of the other kind, which is how a shop moves from SQLite to PostgreSQL.
"""

import base64
import gzip
import hashlib
import json
import os
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime
from decimal import Decimal
from pathlib import Path
from typing import IO, Any

import sqlalchemy as sa
from alembic.runtime.migration import MigrationContext

from service.store import migrate
from service.store.engine import make_engine

FORMAT = 1
BATCH = 500


class UnusableBackup(ValueError):
    """The file is not a whole backup, or the database is not empty."""


def write(url: str, path: Path, at: datetime) -> dict[str, int]:
    """
    Write everything in a database into a file, which appears only when it is whole.

    Parameters
    ----------
    url
        Database URL.
    path
        File to make, mode 0600.
    at
        Now, for the head.

    Returns
    -------
    dict
        Rows of each table.
    """
    draft = path.with_name(f".{path.name}.part")
    engine = make_engine(url)
    try:
        with _snapshot(engine) as connection, _private(draft) as stream:
            counts = _dump(connection, stream, at)
        draft.replace(path)
    finally:
        draft.unlink(missing_ok=True)
        engine.dispose()
    return counts


def restore(url: str, path: Path) -> dict[str, int]:
    """
    Fill an empty database from a file and bring it to the newest schema.

    Raises
    ------
    UnusableBackup
        When the file is damaged or cut short, or there is data already; nothing is changed then.
    """
    revision, expected = check(path)
    migrate.upgrade(url, revision)
    engine = make_engine(url)
    try:
        with engine.execution_options(writing=True).begin() as connection:
            tables = _tables(connection)
            if connection.execute(
                sa.select(sa.func.count()).select_from(tables["organisations"])
            ).scalar_one():
                raise UnusableBackup("the database has data already; restore into an empty one")
            _fill(connection, tables, path)
    finally:
        engine.dispose()
    migrate.upgrade(url)
    return expected


def check(path: Path) -> tuple[str, dict[str, int]]:
    """The revision and the row counts of a file that is whole; ``UnusableBackup`` otherwise."""
    digest, head, end = hashlib.sha256(), None, None
    try:
        with gzip.open(path, "rt", encoding="utf-8") as stream:
            for line in stream:
                head = head or json.loads(line)
                if line.startswith('{"end"'):
                    end = json.loads(line)
                    break
                digest.update(line.encode())
    except (OSError, EOFError, ValueError) as error:
        raise UnusableBackup(f"{path} is not a readable backup: {error}") from None
    if not isinstance(head, dict) or head.get("heelmark") != "backup" or head.get("format") != FORMAT:
        raise UnusableBackup(f"{path} is not a backup of format {FORMAT}")
    if end is None or end["sha256"] != digest.hexdigest():
        raise UnusableBackup(f"{path} is cut short or damaged")
    return str(head["revision"]), dict(end["rows"])


def _dump(connection: sa.Connection, stream: IO[bytes], at: datetime) -> dict[str, int]:
    digest = hashlib.sha256()

    def put(value: Any) -> None:
        line = (json.dumps(value, ensure_ascii=False, separators=(",", ":")) + "\n").encode()
        digest.update(line)
        packed.write(line)

    counts: dict[str, int] = {}
    with gzip.GzipFile(fileobj=stream, mode="wb", filename="", mtime=0) as packed:
        (revision,) = MigrationContext.configure(connection).get_current_heads()
        put({"heelmark": "backup", "format": FORMAT, "revision": revision, "at": at.isoformat()})
        for name, table in _tables(connection).items():
            put({"table": name, "columns": list(table.c.keys())})
            rows = connection.execution_options(yield_per=BATCH).execute(sa.select(table))
            counts[name] = 0
            for row in rows:
                put([_plain(value) for value in row])
                counts[name] += 1
        end = {"end": True, "rows": counts, "sha256": digest.hexdigest()}
        packed.write((json.dumps(end) + "\n").encode())
    return counts


def _fill(connection: sa.Connection, tables: dict[str, sa.Table], path: Path) -> None:
    naive = connection.dialect.name == "sqlite"
    with gzip.open(path, "rt", encoding="utf-8") as stream:
        next(stream)
        table: sa.Table | None = None
        columns: list[str] = []
        batch: list[dict[str, Any]] = []
        for line in stream:
            value = json.loads(line)
            if isinstance(value, list):
                batch.append({c: _python(v, naive) for c, v in zip(columns, value, strict=True)})
            if batch and (len(batch) == BATCH or isinstance(value, dict)):
                assert table is not None  # noqa: S101
                connection.execute(sa.insert(table), batch)
                batch = []
            if isinstance(value, dict) and "table" in value:
                table, columns = tables[value["table"]], value["columns"]
    if connection.dialect.name == "postgresql":
        _renumber(connection, tables)


def _renumber(connection: sa.Connection, tables: dict[str, sa.Table]) -> None:
    """Rows came with their ids; the sequences go on after them."""
    for name, table in tables.items():
        if "id" in table.c and isinstance(table.c.id.type, sa.Integer):
            highest = connection.execute(sa.select(sa.func.max(table.c.id))).scalar_one()
            if highest is not None:
                sequence = sa.func.pg_get_serial_sequence(name, "id")
                connection.execute(sa.select(sa.func.setval(sequence, highest)))


def _tables(connection: sa.Connection) -> dict[str, sa.Table]:
    """The tables as they are in this database, referred-to ones first."""
    metadata = sa.MetaData()
    metadata.reflect(connection)
    for table in metadata.tables.values():
        for column in table.columns:
            if isinstance(column.type, sa.JSON):
                column.type.none_as_null = True
    return {table.name: table for table in metadata.sorted_tables if table.name != "alembic_version"}


def _plain(value: Any) -> Any:
    if isinstance(value, datetime):
        return {"t": (value if value.tzinfo else value.replace(tzinfo=UTC)).astimezone(UTC).isoformat()}
    if isinstance(value, date):
        return {"d": value.isoformat()}
    if isinstance(value, Decimal):
        return {"n": str(value)}
    if isinstance(value, bytes):
        return {"b": base64.b64encode(value).decode("ascii")}
    return {"j": value} if isinstance(value, dict | list) else value


def _python(value: Any, naive: bool) -> Any:
    if not isinstance(value, dict):
        return value
    if "t" in value:
        instant = datetime.fromisoformat(value["t"])
        return instant.replace(tzinfo=None) if naive else instant
    if "d" in value:
        return date.fromisoformat(value["d"])
    if "n" in value:
        return Decimal(value["n"])
    return base64.b64decode(value["b"]) if "b" in value else value["j"]


@contextmanager
def _snapshot(engine: sa.Engine) -> Iterator[sa.Connection]:
    """One state of the whole database, however long the reading takes."""
    with engine.connect() as connection:
        if engine.dialect.name == "postgresql":
            connection.execution_options(isolation_level="REPEATABLE READ", postgresql_readonly=True)
        with connection.begin():
            yield connection


@contextmanager
def _private(path: Path) -> Iterator[IO[bytes]]:
    """A file that nobody else on the machine can read; on the disk when the block ends."""
    descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
    with os.fdopen(descriptor, "wb") as stream:
        yield stream
        stream.flush()
        os.fsync(stream.fileno())
