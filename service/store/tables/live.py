"""What the worker last said of each hookup, and a thinned trace of it; neither is evidence."""

import sqlalchemy as sa

from service.store.tables.base import owned_table, reference
from service.store.types import Json, UtcDateTime

live = owned_table(
    "live",
    reference("hookup_id", "hookups"),
    sa.Column("at", UtcDateTime, nullable=False),
    sa.Column("received_at", UtcDateTime, nullable=False),
    sa.Column("settling_state", sa.String(16), nullable=False),
    sa.Column("temp_k", sa.Float, nullable=True),
    sa.Column("pressure_pa", sa.Float, nullable=True),
    sa.Column("document", Json, nullable=False),
    sa.UniqueConstraint("hookup_id"),
    sa.Index(None, "organisation_id", "received_at"),
)

trace = owned_table(
    "trace",
    reference("hookup_id", "hookups"),
    sa.Column("at", UtcDateTime, nullable=False),
    sa.Column("settling_state", sa.String(16), nullable=False),
    sa.Column("temp_k", sa.Float, nullable=True),
    sa.Column("pressure_pa", sa.Float, nullable=True),
    sa.Column("mass_kg", sa.Float, nullable=True),
    sa.UniqueConstraint("hookup_id", "at"),
    # Points arrive in the order of time: a block range index is a thousandth of a tree's size.
    sa.Index(None, "at", postgresql_using="brin"),
)
