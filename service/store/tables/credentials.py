"""A broker user for each device; only what the broker needs to check a password is kept."""

import sqlalchemy as sa

from service.store.tables.base import owned_table, reference
from service.store.types import UtcDateTime

device_credentials = owned_table(
    "device_credentials",
    sa.Column("device", sa.String(120), nullable=False),
    reference("place_id", "places"),
    sa.Column("username", sa.String(64), nullable=False, unique=True),
    sa.Column("password_hash", sa.String(300), nullable=False),
    sa.Column("issued_at", UtcDateTime, nullable=False),
    sa.Column("issued_by", sa.String(120), nullable=False),
    sa.Column("revoked_at", UtcDateTime, nullable=True),
    sa.Column("revoked_by", sa.String(120), nullable=True),
    sa.Index(None, "organisation_id", "device"),
)
