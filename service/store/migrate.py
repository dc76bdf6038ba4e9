"""Migrations with a configuration built in code: no ini file, no framework context."""

import time
from pathlib import Path

import sqlalchemy as sa
from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory

from service.store.engine import WrongEncoding, make_engine

MIGRATIONS = Path(__file__).with_name("migrations")
TRIED_EVERY_S = 0.5


def configuration(url: str) -> Config:
    """Alembic's configuration for a database URL."""
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS))
    config.set_main_option("path_separator", "os")
    config.attributes["url"] = url
    return config


def upgrade(url: str, revision: str = "head") -> None:
    """Bring the schema to a revision; SQLite is set to write-ahead logging first, before servers fork."""
    engine = make_engine(url)
    if engine.dialect.name == "sqlite":
        if engine.url.database:
            _make_private(Path(engine.url.database))
        connection = engine.raw_connection()
        connection.cursor().execute("PRAGMA journal_mode=WAL")
        connection.close()
    engine.dispose()
    command.upgrade(configuration(url), revision)


def wait_for(url: str, within_s: float) -> None:
    """Wait until the database answers, at most so long [s]; ``OperationalError`` when it does not."""
    deadline, engine = time.monotonic() + within_s, make_engine(url)
    try:
        while True:
            try:
                engine.connect().close()
                return
            except sa.exc.OperationalError as error:
                if time.monotonic() >= deadline or isinstance(error.orig, WrongEncoding):
                    raise
            time.sleep(TRIED_EVERY_S)
    finally:
        engine.dispose()


def _make_private(path: Path) -> None:
    """Make the file its owner's alone, or take what others may do with one that is there; logs beside it follow."""
    path.parent.mkdir(parents=True, exist_ok=True)
    path.touch(mode=0o600)
    path.chmod(path.stat().st_mode & 0o770)


def downgrade(url: str, revision: str) -> None:
    """Take the schema back to a revision."""
    command.downgrade(configuration(url), revision)


def at_head(engine: sa.Engine) -> bool:
    """Whether the database has every migration that this code knows."""
    with engine.connect() as connection:
        current = MigrationContext.configure(connection).get_current_heads()
    return set(current) == set(ScriptDirectory(str(MIGRATIONS)).get_heads())
