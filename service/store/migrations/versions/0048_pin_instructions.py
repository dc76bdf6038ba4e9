"""Keep what somebody asks of whoever is at a cylinder next

Revision ID: 0048
Revises: 0022
"""

import sqlalchemy as sa
from alembic import op
from service.store.types import BigId, UtcDateTime

revision = "0048"
down_revision = "0022"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "instructions",
        sa.Column("id", BigId, nullable=False),
        sa.Column("organisation_id", BigId, nullable=False),
        sa.Column("cylinder_id", BigId, nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("pinned_at", UtcDateTime, nullable=False),
        sa.Column("pinned_by", sa.String(120), nullable=False),
        sa.Column("done_at", UtcDateTime, nullable=True),
        sa.Column("done_by", sa.String(120), nullable=True),
        sa.Column("answer", sa.Text(), nullable=True),
        sa.ForeignKeyConstraint(
            ["organisation_id"], ["organisations.id"], name="fk_instructions_organisation_id_organisations"
        ),
        sa.ForeignKeyConstraint(
            ["cylinder_id"], ["cylinders.id"], name="fk_instructions_cylinder_id_cylinders"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_instructions"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_instructions_cylinder_id_done_at", "instructions", ["cylinder_id", "done_at"])


def downgrade() -> None:
    op.drop_index("ix_instructions_cylinder_id_done_at", table_name="instructions")
    op.drop_table("instructions")
