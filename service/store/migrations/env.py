"""Alembic runs this file; the URL comes from the configuration's attributes."""

from typing import Any, Literal

from alembic import context
from alembic.autogenerate.api import AutogenContext
from sqlalchemy import event

from service.store import tables, types
from service.store.engine import make_engine


def render_item(kind: str, item: Any, autogen: AutogenContext) -> str | Literal[False]:
    """Write our own column types by name."""
    if kind != "type":
        return False
    name = {id(types.BigId): "BigId", id(types.Json): "Json"}.get(id(item))
    if isinstance(item, types.UtcDateTime):
        name = "UtcDateTime()"
    if name is None:
        return False
    autogen.imports.add("from service.store.types import BigId, Json, UtcDateTime")
    return name


def keep_references(connection: Any, _record: Any) -> None:
    """SQLite changes a table by copying it and dropping the old one, which references to it would forbid."""
    connection.execute("PRAGMA foreign_keys=OFF")


engine = make_engine(context.config.attributes["url"]).execution_options(writing=True)
if engine.dialect.name == "sqlite":
    event.listen(engine, "connect", keep_references)
with engine.connect() as connection:
    context.configure(
        connection=connection,
        target_metadata=tables.metadata,
        render_as_batch=True,
        render_item=render_item,
        compare_type=True,
        compare_server_default=False,
        transaction_per_migration=True,
    )
    with context.begin_transaction():
        context.run_migrations()
    if engine.dialect.name == "sqlite" and (
        broken := connection.exec_driver_sql("PRAGMA foreign_key_check").all()
    ):
        raise RuntimeError(f"the migration left rows that refer to nothing: {broken[:5]}")
engine.dispose()
