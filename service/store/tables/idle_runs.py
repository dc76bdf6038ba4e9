"""How a device on no cylinder has read since it was left alone; a row goes when the device is used or read."""

import sqlalchemy as sa

from service.store.tables.base import owned_table
from service.store.types import UtcDateTime

idle_runs = owned_table(
    "idle_runs",
    sa.Column("device", sa.String(120), nullable=False),
    sa.Column("quantity", sa.String(16), nullable=False),
    sa.Column("since", UtcDateTime, nullable=False),
    sa.Column("last_at", UtcDateTime, nullable=False),
    sa.Column("rounds", sa.Integer, nullable=False),
    # What it showed less what is taken as true, [Pa] or [K]; and how many stood beside it.
    sa.Column("total", sa.Float, nullable=False),
    sa.Column("low", sa.Float, nullable=False),
    sa.Column("high", sa.Float, nullable=False),
    sa.Column("beside", sa.Integer, nullable=False),
    # Temperature where it hangs [K], where that is known.
    sa.Column("low_k", sa.Float, nullable=True),
    sa.Column("high_k", sa.Float, nullable=True),
    sa.UniqueConstraint("organisation_id", "device", "quantity"),
)
