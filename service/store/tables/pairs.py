"""Equilibrium pairs: the evidence, never changed once stored."""

import sqlalchemy as sa

from service.store.tables.base import owned_table, reference
from service.store.types import Json, UtcDateTime

pairs = owned_table(
    "pairs",
    reference("cylinder_id", "cylinders"),
    sa.Column("epoch", sa.Integer, nullable=False),
    reference("hookup_id", "hookups", nullable=True),
    sa.Column("temp_k", sa.Float, nullable=False),
    sa.Column("pressure_pa", sa.Float, nullable=False),
    sa.Column("temp_noise_k", sa.Float, nullable=False),
    sa.Column("pressure_noise_pa", sa.Float, nullable=False),
    sa.Column("temp_bias_k", sa.Float, nullable=False),
    sa.Column("pressure_bias_pa", sa.Float, nullable=False),
    sa.Column("atmosphere_pa", sa.Float, nullable=True),
    sa.Column("atmosphere_bias_pa", sa.Float, nullable=False),
    sa.Column("atmosphere_source", sa.String(16), nullable=False),
    sa.Column("pressure_device", sa.String(120), nullable=True),
    sa.Column("temperature_device", sa.String(120), nullable=True),
    sa.Column("settled_at", UtcDateTime, nullable=False),
    sa.Column("from_at", UtcDateTime, nullable=True),
    sa.Column("to_at", UtcDateTime, nullable=True),
    sa.Column("provisional", sa.Boolean, nullable=False),
    sa.Column("reasons", Json, nullable=False),
    sa.Column("mass_kg", sa.Float, nullable=True),
    sa.Column("ambient_temp_k", sa.Float, nullable=True),
    sa.Column("recorded_by", sa.String(120), nullable=False),
    sa.Column("received_at", UtcDateTime, nullable=False),
    sa.Index(None, "cylinder_id", "epoch", "id"),
)
