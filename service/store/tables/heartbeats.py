"""When each background process last did its round; what is silent for too long turns the health red."""

import sqlalchemy as sa

from service.store.tables.base import metadata
from service.store.types import UtcDateTime

heartbeats = sa.Table(
    "heartbeats",
    metadata,
    sa.Column("process", sa.String(120), primary_key=True),
    sa.Column("at", UtcDateTime, nullable=False),
)
