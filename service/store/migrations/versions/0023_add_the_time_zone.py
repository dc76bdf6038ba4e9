"""Add the time zone by which an organisation counts its days

Revision ID: 0023
Revises: 0006
"""

import sqlalchemy as sa
from alembic import op

revision = "0023"
down_revision = "0006"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("organisations") as batch:
        batch.add_column(sa.Column("time_zone", sa.String(64), nullable=False, server_default="UTC"))


def downgrade() -> None:
    with op.batch_alter_table("organisations") as batch:
        batch.drop_column("time_zone")
