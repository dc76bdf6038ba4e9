"""The owner's own credit per kilogram reclaimed and charge per kilogram destroyed, by designation."""

import sqlalchemy as sa

from service.store.tables.base import owned_table
from service.store.types import UtcDateTime

prices = owned_table(
    "prices",
    sa.Column("designation", sa.String(24), nullable=False),
    sa.Column("credit_per_kg", sa.Numeric(12, 4), nullable=False),
    sa.Column("charge_per_kg", sa.Numeric(12, 4), nullable=False),
    sa.Column("currency", sa.String(3), nullable=False),
    sa.Column("version", sa.Integer, nullable=False, server_default="1"),
    sa.Column("updated_at", UtcDateTime, nullable=False),
    sa.Column("updated_by", sa.String(120), nullable=False),
    sa.UniqueConstraint("organisation_id", "designation"),
)
