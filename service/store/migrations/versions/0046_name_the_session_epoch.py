"""Name the session's epoch as the person's: an epoch alone is one of a cylinder's contents

Revision ID: 0046
Revises: 0045
"""

from alembic import op

revision = "0046"
down_revision = "0045"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("sessions") as batch:
        batch.alter_column("epoch", new_column_name="session_epoch")


def downgrade() -> None:
    with op.batch_alter_table("sessions") as batch:
        batch.alter_column("session_epoch", new_column_name="epoch")
