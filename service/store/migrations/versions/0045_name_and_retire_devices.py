"""Name and retire devices

Revision ID: 0045
Revises: 0048
"""

import sqlalchemy as sa
from alembic import op
from service.store.types import UtcDateTime

revision = "0045"
down_revision = "0048"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("devices") as batch:
        batch.add_column(sa.Column("called", sa.String(80), nullable=True))
        batch.add_column(sa.Column("retired_at", UtcDateTime, nullable=True))


def downgrade() -> None:
    with op.batch_alter_table("devices") as batch:
        batch.drop_column("retired_at")
        batch.drop_column("called")
