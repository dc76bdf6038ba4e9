"""Keep readings that come over HTTP until the worker has them, and tokens of one device

Revision ID: 0021
Revises: 0060
"""

import sqlalchemy as sa
from alembic import op
from service.store.types import BigId, UtcDateTime

revision = "0021"
down_revision = "0044"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "messages",
        sa.Column("id", BigId, nullable=False),
        sa.Column("organisation_id", BigId, nullable=False),
        sa.Column("place", sa.String(80), nullable=False),
        sa.Column("device", sa.String(120), nullable=False),
        sa.Column("topic", sa.String(400), nullable=True),
        sa.Column("mapping", sa.String(64), nullable=True),
        sa.Column("payload", sa.LargeBinary(), nullable=False),
        sa.Column("received_at", UtcDateTime, nullable=False),
        sa.Column("posted_by", sa.String(120), nullable=False),
        sa.ForeignKeyConstraint(
            ["organisation_id"], ["organisations.id"], name="fk_messages_organisation_id_organisations"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_messages"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_messages_organisation_id_place_id", "messages", ["organisation_id", "place", "id"])
    with op.batch_alter_table("tokens") as batch:
        batch.add_column(sa.Column("device", sa.String(120), nullable=True))


def downgrade() -> None:
    with op.batch_alter_table("tokens") as batch:
        batch.drop_column("device")
    op.drop_index("ix_messages_organisation_id_place_id", table_name="messages")
    op.drop_table("messages")
