"""Take devices before they are heard, find hookups by device

Revision ID: 0006
Revises: 0005
"""

from datetime import UTC, datetime

import sqlalchemy as sa
from alembic import op
from service.store.types import UtcDateTime

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None

DEVICES = ("pressure_device", "temperature_device")


def upgrade() -> None:
    with op.batch_alter_table("devices") as batch:
        batch.alter_column("last_seen_at", existing_type=UtcDateTime(), nullable=True)
    for column in DEVICES:
        op.create_index(f"ix_hookups_organisation_id_{column}", "hookups", ["organisation_id", column])


def downgrade() -> None:
    for column in DEVICES:
        op.drop_index(f"ix_hookups_organisation_id_{column}", "hookups")
    devices = sa.table("devices", sa.column("last_seen_at", UtcDateTime()))
    long_ago = datetime(1970, 1, 1, tzinfo=UTC)
    op.execute(sa.update(devices).where(devices.c.last_seen_at.is_(None)).values(last_seen_at=long_ago))
    with op.batch_alter_table("devices") as batch:
        batch.alter_column("last_seen_at", existing_type=UtcDateTime(), nullable=False)
