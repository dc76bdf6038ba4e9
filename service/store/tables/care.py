"""What was seen, tested and done to a cylinder by hand; a row is never changed."""

import sqlalchemy as sa

from service.store.tables.base import owned_table, reference
from service.store.types import Json, UtcDateTime

care = owned_table(
    "care",
    reference("cylinder_id", "cylinders"),
    sa.Column("kind", sa.String(24), nullable=False),
    sa.Column("epoch", sa.Integer, nullable=False),
    sa.Column("passed", sa.Boolean, nullable=True),
    sa.Column("details", Json, nullable=False),
    sa.Column("occurred_at", UtcDateTime, nullable=False),
    sa.Column("recorded_at", UtcDateTime, nullable=False),
    sa.Column("recorded_by", sa.String(120), nullable=False),
    sa.Index(None, "cylinder_id", "kind", "id"),
)
