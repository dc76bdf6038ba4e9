"""Full cylinders handed to a supply house against evacuated ones, each with its receipt."""

import sqlalchemy as sa

from service.store.tables.base import owned_table, reference
from service.store.types import Json, UtcDateTime

exchanges = owned_table(
    "exchanges",
    reference("cylinder_id", "cylinders"),
    reference("received_cylinder_id", "cylinders", nullable=True),
    sa.Column("counterparty", sa.String(200), nullable=False),
    sa.Column("receipt", sa.String(80), nullable=False),
    sa.Column("destination", sa.String(16), nullable=False),
    sa.Column("designation", sa.String(24), nullable=True),
    sa.Column("shares", Json, nullable=False),
    sa.Column("gross_kg", sa.Float, nullable=False),
    sa.Column("net_kg", sa.Float, nullable=False),
    sa.Column("occurred_at", UtcDateTime, nullable=False),
    sa.Column("recorded_at", UtcDateTime, nullable=False),
    sa.Column("recorded_by", sa.String(120), nullable=False),
    sa.Column("technician", sa.String(120), nullable=True),
    sa.Column("certification_number", sa.String(80), nullable=True),
    sa.Column("note", sa.Text, nullable=True),
    sa.UniqueConstraint("organisation_id", "counterparty", "receipt", "cylinder_id"),
    sa.Index(None, "organisation_id", "occurred_at"),
)
