"""What somebody asks of whoever is at a cylinder next, and what came of it."""

import sqlalchemy as sa

from service.store.tables.base import owned_table, reference
from service.store.types import UtcDateTime

instructions = owned_table(
    "instructions",
    reference("cylinder_id", "cylinders"),
    sa.Column("text", sa.Text, nullable=False),
    sa.Column("pinned_at", UtcDateTime, nullable=False),
    sa.Column("pinned_by", sa.String(120), nullable=False),
    sa.Column("done_at", UtcDateTime, nullable=True),
    sa.Column("done_by", sa.String(120), nullable=True),
    sa.Column("answer", sa.Text, nullable=True),
    sa.Index(None, "cylinder_id", "done_at"),
)
