"""Note since when a worker has no broker

Revision ID: 0047
Revises: 0019
"""

import sqlalchemy as sa
from alembic import op
from service.store.types import UtcDateTime

revision = "0047"
down_revision = "0042"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("heartbeats") as batch:
        batch.add_column(sa.Column("broker_lost_at", UtcDateTime, nullable=True))


def downgrade() -> None:
    with op.batch_alter_table("heartbeats") as batch:
        batch.drop_column("broker_lost_at")
