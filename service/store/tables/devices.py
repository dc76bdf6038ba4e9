"""Instruments that have been heard of, with their last values."""

import sqlalchemy as sa

from service.store.tables.base import owned_table
from service.store.types import Json, UtcDateTime

devices = owned_table(
    "devices",
    sa.Column("name", sa.String(120), nullable=False),
    sa.Column("place", sa.String(80), nullable=True),
    sa.Column("last_seen_at", UtcDateTime, nullable=True),
    sa.Column("readings", Json, nullable=False),
    sa.Column("probe_lag_s", sa.Float, nullable=True),
    sa.Column("called", sa.String(80), nullable=True),
    sa.Column("retired_at", UtcDateTime, nullable=True),
    sa.UniqueConstraint("organisation_id", "name"),
)
