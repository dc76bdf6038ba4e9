"""Recoveries out of equipment, and the cylinders that each fills."""

import sqlalchemy as sa

from service.store.tables.base import owned_table, reference
from service.store.types import Json, UtcDateTime

recoveries = owned_table(
    "recoveries",
    sa.Column("designation", sa.String(24), nullable=True),
    sa.Column("expected_kg", sa.Float, nullable=True),
    sa.Column("phase", sa.String(8), nullable=False),
    sa.Column("equipment", Json, nullable=False),
    sa.Column("standing", Json, nullable=True),
    sa.Column("machine_made_on", sa.Date, nullable=True),
    sa.Column("small_appliance", sa.Boolean, nullable=False),
    sa.Column("compressor_runs", sa.Boolean, nullable=False),
    sa.Column("technician", sa.String(120), nullable=True),
    sa.Column("certification_number", sa.String(80), nullable=True),
    sa.Column("occurred_at", UtcDateTime, nullable=False),
    sa.Column("recorded_by", sa.String(120), nullable=False),
    sa.Column("ended_at", UtcDateTime, nullable=True),
    sa.Column("ended_by", sa.String(120), nullable=True),
    sa.Column("ending", Json, nullable=True),
    # None in rows of before: the phase says it.
    sa.Column("method", sa.String(12), nullable=True),
    # Of the equipment with the machine off: [{"at", "pressure_pa", "by"}], oldest first.
    sa.Column("vacuum_readings", Json, nullable=True),
)
recovery_fills = owned_table(
    "recovery_fills",
    reference("recovery_id", "recoveries"),
    reference("cylinder_id", "cylinders"),
    sa.Column("room_kg", sa.Float, nullable=False),
    sa.Column("gross_before_kg", sa.Float, nullable=True),
    sa.Column("target_gross_kg", sa.Float, nullable=False),
    sa.Column("begun_at", UtcDateTime, nullable=True),
    sa.Column("ended_at", UtcDateTime, nullable=True),
    reference("transfer_id", "transfers", nullable=True),
    sa.Index(None, "recovery_id", "id"),
    sa.Index(None, "cylinder_id", "ended_at"),
)
