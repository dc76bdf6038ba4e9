"""People who sign in at the board; a login is unique in the whole installation."""

import sqlalchemy as sa

from service.store.tables.base import owned_table
from service.store.types import Json, UtcDateTime

people = owned_table(
    "people",
    sa.Column("login", sa.String(80), nullable=False, unique=True),
    sa.Column("name", sa.String(120), nullable=False),
    sa.Column("role", sa.String(16), nullable=False),
    sa.Column("password_hash", sa.String(200), nullable=True),
    # How often all sessions of this person were ended; an epoch alone is one of contents.
    sa.Column("session_epoch", sa.Integer, nullable=False, server_default="0"),
    sa.Column("certification_number", sa.String(80), nullable=True),
    sa.Column("certification_type", sa.String(40), nullable=True),
    sa.Column("certification_organisation", sa.String(120), nullable=True),
    sa.Column("preferences", Json, nullable=True),
    sa.Column("created_at", UtcDateTime, nullable=False),
    sa.Column("last_seen_at", UtcDateTime, nullable=True),
    sa.Column("disabled_at", UtcDateTime, nullable=True),
)
