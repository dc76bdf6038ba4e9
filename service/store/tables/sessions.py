"""Sessions of people at the board; only the digest of what the browser keeps is kept."""

import sqlalchemy as sa

from service.store.tables.base import owned_table, reference
from service.store.types import UtcDateTime

sessions = owned_table(
    "sessions",
    reference("person_id", "people"),
    sa.Column("digest", sa.String(64), nullable=False, unique=True),
    # Of the person, not of contents; the stored name stays: the version before runs on the same tables while replaced.
    sa.Column("epoch", sa.Integer, nullable=False),
    sa.Column("began_at", UtcDateTime, nullable=False),
    sa.Column("ended_at", UtcDateTime, nullable=True),
)
