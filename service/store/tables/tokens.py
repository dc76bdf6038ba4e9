"""Bearer tokens of machines; only the digest is kept."""

import sqlalchemy as sa

from service.store.tables.base import owned_table
from service.store.types import UtcDateTime

tokens = owned_table(
    "tokens",
    sa.Column("name", sa.String(80), nullable=False),
    sa.Column("scope", sa.String(16), nullable=False),
    sa.Column("digest", sa.String(64), nullable=False, unique=True),
    sa.Column("created_at", UtcDateTime, nullable=False),
    sa.Column("expires_at", UtcDateTime, nullable=True),
    sa.Column("revoked_at", UtcDateTime, nullable=True),
    sa.Column("last_used_at", UtcDateTime, nullable=True),
    # The only place and device that a token of the scope gateway may post readings of.
    sa.Column("place", sa.String(80), nullable=True),
    sa.Column("device", sa.String(120), nullable=True),
)
