"""Note when somebody hooked devices up, which may be later than what the hookup begins with

Revision ID: 0019
Revises: 0041
"""

import sqlalchemy as sa
from alembic import op
from service.store.types import UtcDateTime

revision = "0019"
down_revision = "0041"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("hookups") as batch:
        batch.add_column(sa.Column("recorded_at", UtcDateTime, nullable=True))


def downgrade() -> None:
    with op.batch_alter_table("hookups") as batch:
        batch.drop_column("recorded_at")
