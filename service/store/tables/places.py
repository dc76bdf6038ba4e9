"""Shops, vans and sites: the unit by which readings are shared out, and where the elevation is known."""

import sqlalchemy as sa

from service.store.tables.base import owned_table
from service.store.types import UtcDateTime

places = owned_table(
    "places",
    sa.Column("name", sa.String(80), nullable=False),
    sa.Column("kind", sa.String(16), nullable=False, server_default="site"),
    sa.Column("elevation_m", sa.Float, nullable=True),
    sa.Column("rule_book", sa.String(8), nullable=True),
    sa.Column("created_at", UtcDateTime, nullable=False),
    sa.UniqueConstraint("organisation_id", "name"),
)
