"""Keep unfinished forms, the method of a recovery and the readings of its vacuum

Revision ID: 0032
Revises: 0018
"""

import sqlalchemy as sa
from alembic import op
from service.store.types import BigId, Json, UtcDateTime

revision = "0032"
down_revision = "0018"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "drafts",
        sa.Column("id", BigId, nullable=False),
        sa.Column("organisation_id", BigId, nullable=False),
        sa.Column("form", sa.String(120), nullable=False),
        sa.Column("document", Json, nullable=False),
        sa.Column("changed_at", UtcDateTime, nullable=False),
        sa.Column("changed_by", sa.String(120), nullable=False),
        sa.ForeignKeyConstraint(
            ["organisation_id"], ["organisations.id"], name="fk_drafts_organisation_id_organisations"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_drafts"),
        sa.UniqueConstraint("organisation_id", "form", name="uq_drafts_organisation_id"),
        sqlite_autoincrement=True,
    )
    op.add_column("recoveries", sa.Column("method", sa.String(12), nullable=True))
    op.add_column("recoveries", sa.Column("vacuum_readings", Json, nullable=True))


def downgrade() -> None:
    op.drop_column("recoveries", "vacuum_readings")
    op.drop_column("recoveries", "method")
    op.drop_table("drafts")
