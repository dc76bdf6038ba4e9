"""Who holds a cylinder outside the shop, since when, and until when it is due back."""

import sqlalchemy as sa

from service.store.tables.base import owned_table, reference
from service.store.types import UtcDateTime

custody = owned_table(
    "custody",
    reference("cylinder_id", "cylinders"),
    sa.Column("holder", sa.String(200), nullable=False),
    sa.Column("since", UtcDateTime, nullable=False),
    sa.Column("due_on", sa.Date, nullable=True),
    sa.Column("returned_at", UtcDateTime, nullable=True),
    sa.Column("note", sa.Text, nullable=True),
    sa.Column("recorded_by", sa.String(120), nullable=False),
    sa.Index(None, "cylinder_id", "id"),
)
