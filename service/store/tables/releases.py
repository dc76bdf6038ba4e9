"""Advice that a supervisor has released for the contents of one epoch; a row is never changed."""

import sqlalchemy as sa

from service.store.tables.base import owned_table, reference
from service.store.types import UtcDateTime

releases = owned_table(
    "releases",
    reference("cylinder_id", "cylinders"),
    sa.Column("epoch", sa.Integer, nullable=False),
    sa.Column("code", sa.String(32), nullable=False),
    sa.Column("reason", sa.Text, nullable=False),
    sa.Column("released_at", UtcDateTime, nullable=False),
    sa.Column("released_by", sa.String(120), nullable=False),
    sa.Index(None, "cylinder_id", "epoch"),
)
