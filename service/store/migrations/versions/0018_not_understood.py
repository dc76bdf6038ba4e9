"""Keep what was heard and could not be read

Revision ID: 0018
Revises: 0031
"""

import sqlalchemy as sa
from alembic import op
from service.store.types import BigId, UtcDateTime

revision = "0018"
down_revision = "0031"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "not_understood",
        sa.Column("id", BigId, nullable=False),
        sa.Column("organisation_id", BigId, nullable=False),
        sa.Column("source", sa.String(120), nullable=False),
        sa.Column("reason", sa.String(40), nullable=False),
        sa.Column("place", sa.String(80), nullable=True),
        sa.Column("detail", sa.String(300), nullable=False),
        sa.Column("example", sa.String(400), nullable=False),
        sa.Column("partly", sa.Boolean(), nullable=False),
        sa.Column("count", sa.BigInteger(), nullable=False),
        sa.Column("first_seen_at", UtcDateTime, nullable=False),
        sa.Column("last_seen_at", UtcDateTime, nullable=False),
        sa.ForeignKeyConstraint(
            ["organisation_id"], ["organisations.id"], name="fk_not_understood_organisation_id_organisations"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_not_understood"),
        sa.UniqueConstraint(
            "organisation_id", "source", "reason", name="uq_not_understood_organisation_id_source_reason"
        ),
    )
    op.create_index(
        "ix_not_understood_organisation_id_last_seen_at", "not_understood", ["organisation_id", "last_seen_at"]
    )


def downgrade() -> None:
    op.drop_index("ix_not_understood_organisation_id_last_seen_at", table_name="not_understood")
    op.drop_table("not_understood")
