"""Bearer tokens of machines; only the digest is kept."""

import sqlalchemy as sa

from service.store.tables.base import owned_table
from service.store.types import Json, UtcDateTime

tokens = owned_table(
    "tokens",
    sa.Column("name", sa.String(80), nullable=False),
    sa.Column("scope", sa.String(16), nullable=False),
    # Names of places; null: not bound to any.
    sa.Column("places", Json, nullable=True),
    sa.Column("digest", sa.String(64), nullable=False, unique=True),
    sa.Column("created_at", UtcDateTime, nullable=False),
    sa.Column("expires_at", UtcDateTime, nullable=True),
    sa.Column("revoked_at", UtcDateTime, nullable=True),
    sa.Column("last_used_at", UtcDateTime, nullable=True),
)
