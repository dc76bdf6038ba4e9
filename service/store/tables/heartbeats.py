"""When each background process last did its round; silent for too long, or without its broker, it turns health red."""

import sqlalchemy as sa

from service.store.tables.base import metadata
from service.store.types import UtcDateTime

heartbeats = sa.Table(
    "heartbeats",
    metadata,
    sa.Column("process", sa.String(120), primary_key=True),
    sa.Column("at", UtcDateTime, nullable=False),
    sa.Column("broker_lost_at", UtcDateTime),
)
