"""Owners: every other row belongs to one."""

import sqlalchemy as sa

from service.store.tables.base import metadata
from service.store.types import BigId, Json, UtcDateTime

organisations = sa.Table(
    "organisations",
    metadata,
    sa.Column("id", BigId, primary_key=True),
    sa.Column("name", sa.String(80), nullable=False, unique=True),
    sa.Column("units", sa.String(16), nullable=False, server_default="inch-pound"),
    sa.Column("region", sa.String(32), nullable=False, server_default="north-america"),
    sa.Column("preferences", Json, nullable=True),
    sa.Column("time_zone", sa.String(64), nullable=False, server_default="UTC"),
    sa.Column("rule_book", sa.String(8), nullable=False, server_default="us"),
    sa.Column("created_at", UtcDateTime, nullable=False),
    sqlite_autoincrement=True,
)
