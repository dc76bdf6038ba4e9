"""Answers already given to a key, so that a repeated write is answered again and done once."""

import sqlalchemy as sa

from service.store.tables.base import owned_table
from service.store.types import UtcDateTime

idempotency = owned_table(
    "idempotency",
    sa.Column("key", sa.String(200), nullable=False),
    sa.Column("digest", sa.String(64), nullable=False),
    sa.Column("status", sa.Integer, nullable=True),
    sa.Column("headers", sa.Text, nullable=True),
    sa.Column("body", sa.LargeBinary, nullable=True),
    sa.Column("created_at", UtcDateTime, nullable=False),
    sa.UniqueConstraint("organisation_id", "key"),
    sa.Index(None, "created_at"),
)
