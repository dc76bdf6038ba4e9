"""Cylinders set aside: nothing in or out until a supervisor releases them."""

import sqlalchemy as sa

from service.store.tables.base import owned_table, reference
from service.store.types import UtcDateTime

holds = owned_table(
    "holds",
    reference("cylinder_id", "cylinders"),
    sa.Column("reason", sa.Text, nullable=False),
    sa.Column("placed_at", UtcDateTime, nullable=False),
    sa.Column("placed_by", sa.String(120), nullable=False),
    sa.Column("released_at", UtcDateTime, nullable=True),
    sa.Column("released_by", sa.String(120), nullable=True),
    sa.Column("release_reason", sa.Text, nullable=True),
    sa.Index(None, "cylinder_id", "released_at"),
)
