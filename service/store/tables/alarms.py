"""What a supervisor must see: raised, acknowledged, cleared; at most one open alarm a subject and code."""

import sqlalchemy as sa

from service.store.tables.base import owned_table, reference
from service.store.types import Json, UtcDateTime

alarms = owned_table(
    "alarms",
    sa.Column("code", sa.String(32), nullable=False),
    sa.Column("severity", sa.String(16), nullable=False),
    reference("cylinder_id", "cylinders", nullable=True),
    sa.Column("device", sa.String(120), nullable=True),
    sa.Column("text", sa.Text, nullable=False),
    sa.Column("details", Json, nullable=True),
    sa.Column("raised_at", UtcDateTime, nullable=False),
    sa.Column("cleared_at", UtcDateTime, nullable=True),
    sa.Column("acknowledged_at", UtcDateTime, nullable=True),
    sa.Column("acknowledged_by", sa.String(120), nullable=True),
    sa.Index(None, "organisation_id", "cleared_at"),
    sa.Index(None, "cylinder_id", "code"),
)
