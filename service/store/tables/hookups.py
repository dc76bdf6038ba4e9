"""Which devices are on which cylinder, on which valve, from when to when."""

import sqlalchemy as sa

from service.store.tables.base import owned_table, reference
from service.store.types import UtcDateTime

hookups = owned_table(
    "hookups",
    reference("cylinder_id", "cylinders"),
    reference("place_id", "places"),
    sa.Column("pressure_device", sa.String(120), nullable=False),
    sa.Column("temperature_device", sa.String(120), nullable=False),
    sa.Column("valve", sa.String(8), nullable=False),
    sa.Column("from_at", UtcDateTime, nullable=False),
    sa.Column("to_at", UtcDateTime, nullable=True),
    sa.Column("temperature_bias_k", sa.Float, nullable=True),
    sa.Column("pressure_bias_pa", sa.Float, nullable=True),
    sa.Column("probe_lag_s", sa.Float, nullable=True),
    sa.Column("attached_by", sa.String(120), nullable=False),
    sa.Column("detached_by", sa.String(120), nullable=True),
    sa.Column("recorded_at", UtcDateTime, nullable=True),
    sa.Index(None, "organisation_id", "to_at"),
    sa.Index(None, "cylinder_id", "to_at"),
    sa.Index(None, "organisation_id", "pressure_device"),
    sa.Index(None, "organisation_id", "temperature_device"),
)
