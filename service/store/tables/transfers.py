"""Refrigerant in and out of cylinders; a row is never changed, a correction is a row of its own."""

import sqlalchemy as sa

from service.store.tables.base import owned_table, reference
from service.store.types import BigId, Json, UtcDateTime

transfers = owned_table(
    "transfers",
    reference("cylinder_id", "cylinders"),
    sa.Column("direction", sa.String(4), nullable=False),
    sa.Column("designation", sa.String(24), nullable=True),
    sa.Column("shares", Json, nullable=False),
    sa.Column("mass_kg", sa.Float, nullable=False),
    sa.Column("gross_after_kg", sa.Float, nullable=True),
    sa.Column("phase", sa.String(8), nullable=False),
    sa.Column("epoch", sa.Integer, nullable=False),
    sa.Column("occurred_at", UtcDateTime, nullable=False),
    sa.Column("recorded_at", UtcDateTime, nullable=False),
    sa.Column("recorded_by", sa.String(120), nullable=False),
    sa.Column("technician", sa.String(120), nullable=True),
    sa.Column("certification_number", sa.String(80), nullable=True),
    # Owner, location, appliance, circuit, nameplate designation and charge of what it came from or went to.
    sa.Column("equipment", Json, nullable=True),
    # The pair taken on the standing equipment and the verdict on it.
    sa.Column("standing", Json, nullable=True),
    # The other half of a move from cylinder to cylinder; not a foreign key, which would close a circle.
    sa.Column("other_cylinder_id", BigId, nullable=True),
    sa.Column("overridden", Json, nullable=True),
    sa.Column("override_reason", sa.Text, nullable=True),
    sa.Column("corrects_id", BigId, nullable=True),
    sa.Column("note", sa.Text, nullable=True),
    sa.Index(None, "organisation_id", "occurred_at"),
    sa.Index(None, "cylinder_id", "id"),
)
