"""Bind tokens to places

Revision ID: 0050
Revises: 0019
"""

import sqlalchemy as sa
from alembic import op
from service.store.types import Json

revision = "0050"
down_revision = "0047"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("tokens", sa.Column("places", Json, nullable=True))


def downgrade() -> None:
    with op.batch_alter_table("tokens") as table:
        table.drop_column("places")
