"""Append-only: the board's stream, the webhooks' source and the audit log are all read from here."""

import sqlalchemy as sa

from service.store.tables.base import owned_table
from service.store.types import Json, UtcDateTime

events = owned_table(
    "events",
    sa.Column("at", UtcDateTime, nullable=False),
    sa.Column("type", sa.String(64), nullable=False),
    sa.Column("subject", sa.String(160), nullable=False),
    sa.Column("actor", sa.String(120), nullable=False),
    sa.Column("data", Json, nullable=False),
    sa.Index(None, "organisation_id", "id"),
    sa.Index(None, "organisation_id", "type", "id"),
    sa.Index(None, "organisation_id", "subject"),
)
