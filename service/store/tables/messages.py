"""Readings that came over HTTP, as they came, until the worker has them in its own file."""

import sqlalchemy as sa

from service.store.tables.base import owned_table
from service.store.types import UtcDateTime

messages = owned_table(
    "messages",
    sa.Column("place", sa.String(80), nullable=False),
    sa.Column("device", sa.String(120), nullable=False),
    # Of a message that a mapping reads: where it would have been published, and the mapping's name.
    sa.Column("topic", sa.String(400), nullable=True),
    sa.Column("mapping", sa.String(64), nullable=True),
    sa.Column("payload", sa.LargeBinary, nullable=False),
    sa.Column("received_at", UtcDateTime, nullable=False),
    sa.Column("posted_by", sa.String(120), nullable=False),
    sa.Index(None, "organisation_id", "place", "id"),
)
