"""Choose a rule book for the organisation, and another one for a place

Revision ID: 0024
Revises: 0023
"""

import sqlalchemy as sa
from alembic import op

revision = "0024"
down_revision = "0023"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("organisations") as batch:
        batch.add_column(sa.Column("rule_book", sa.String(8), nullable=False, server_default="us"))
    with op.batch_alter_table("places") as batch:
        batch.add_column(sa.Column("rule_book", sa.String(8), nullable=True))


def downgrade() -> None:
    with op.batch_alter_table("places") as batch:
        batch.drop_column("rule_book")
    with op.batch_alter_table("organisations") as batch:
        batch.drop_column("rule_book")
