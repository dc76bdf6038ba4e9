"""Checks of instruments by hand, and what was believed of each set's errors after each lesson; nothing is changed."""

import sqlalchemy as sa

from service.store.tables.base import owned_table, reference
from service.store.types import Json, UtcDateTime

instrument_checks = owned_table(
    "instrument_checks",
    sa.Column("device", sa.String(120), nullable=False),
    sa.Column("method", sa.String(16), nullable=False),
    sa.Column("quantity", sa.String(16), nullable=False),
    # What was shown less what is true, [K] or [Pa] by the quantity.
    sa.Column("error", sa.Float, nullable=False),
    sa.Column("uncertainty", sa.Float, nullable=False),
    sa.Column("pressure_pa", sa.Float, nullable=True),
    sa.Column("certificate", sa.String(120), nullable=True),
    sa.Column("note", sa.Text, nullable=True),
    sa.Column("due_at", UtcDateTime, nullable=True),
    sa.Column("checked_at", UtcDateTime, nullable=False),
    sa.Column("recorded_at", UtcDateTime, nullable=False),
    sa.Column("recorded_by", sa.String(120), nullable=False),
    sa.Index(None, "organisation_id", "device", "id"),
)

instrument_errors = owned_table(
    "instrument_errors",
    sa.Column("thermometer", sa.String(120), nullable=False),
    sa.Column("gauge", sa.String(120), nullable=False),
    sa.Column("at", UtcDateTime, nullable=False),
    # The lesson: a check by hand or a settled pair; neither where a set begins.
    reference("check_id", "instrument_checks", nullable=True),
    reference("pair_id", "pairs", nullable=True),
    reference("cylinder_id", "cylinders", nullable=True),
    sa.Column("epoch", sa.Integer, nullable=True),
    sa.Column("belief", Json, nullable=False),
    sa.Column("combined_k", sa.Float, nullable=False),
    sa.Column("uncertainty_k", sa.Float, nullable=False),
    sa.Column("doubt", sa.Float, nullable=False),
    # What the pair may be off by, under each of what the cylinder may hold; none of a check.
    sa.Column("seen", Json, nullable=True),
    # Whether the cylinders that the set has read were to be judged again with it.
    sa.Column("asked", sa.Boolean, nullable=False, server_default=sa.false()),
    sa.Index(None, "organisation_id", "thermometer", "gauge", "id"),
    sa.Index(None, "pair_id"),
    sa.Index(None, "cylinder_id", "epoch"),
)
