"""What devices and gateways said that the worker could not read, a row a source and reason."""

import sqlalchemy as sa

from service.store.tables.base import owned_table
from service.store.types import Json, UtcDateTime

not_understood = owned_table(
    "not_understood",
    sa.Column("source", sa.String(120), nullable=False),
    sa.Column("reason", sa.String(40), nullable=False),
    sa.Column("place", sa.String(80), nullable=True),
    sa.Column("detail", sa.String(300), nullable=False),
    sa.Column("example", sa.String(400), nullable=False),
    sa.Column("partly", sa.Boolean, nullable=False),
    sa.Column("count", sa.BigInteger, nullable=False),
    sa.Column("first_seen_at", UtcDateTime, nullable=False),
    sa.Column("last_seen_at", UtcDateTime, nullable=False),
    sa.Column("topic", sa.String(400), nullable=True),
    # The last one decoded, where it is a tree that is not too large.
    sa.Column("message", Json, nullable=True),
    sa.UniqueConstraint("organisation_id", "source", "reason"),
    sa.Index(None, "organisation_id", "last_seen_at"),
)
