"""Mappings of foreign messages; every version stays, and one without a document withdraws the mapping."""

import sqlalchemy as sa

from service.store.tables.base import owned_table
from service.store.types import Json, UtcDateTime

mappings = owned_table(
    "mappings",
    sa.Column("name", sa.String(64), nullable=False),
    sa.Column("version", sa.Integer, nullable=False),
    sa.Column("document", Json, nullable=True),
    sa.Column("saved_at", UtcDateTime, nullable=False),
    sa.Column("saved_by", sa.String(120), nullable=False),
    sa.UniqueConstraint("organisation_id", "name", "version"),
)
