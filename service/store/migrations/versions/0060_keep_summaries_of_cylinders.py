"""Keep what the judgement last said of each cylinder

Revision ID: 0060
Revises: 0019
"""

import sqlalchemy as sa
from alembic import op
from service.store.types import BigId, UtcDateTime

revision = "0060"
down_revision = "0050"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "summaries",
        sa.Column("id", BigId, nullable=False),
        sa.Column("organisation_id", BigId, nullable=False),
        sa.Column("cylinder_id", BigId, nullable=False),
        sa.Column("judged_by", sa.String(80), nullable=False),
        sa.Column("law", sa.String(16), nullable=False),
        sa.Column("judged_at", UtcDateTime, nullable=False),
        sa.Column("believable", sa.Text, nullable=False),
        sa.Column("form", sa.String(16), nullable=False),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("known", sa.Boolean, nullable=False),
        sa.Column("weighed", sa.Boolean, nullable=False),
        sa.Column("liquid_fraction", sa.Float, nullable=True),
        sa.Column("limit_fraction", sa.Float, nullable=True),
        sa.Column("over", sa.Boolean, nullable=False),
        sa.ForeignKeyConstraint(
            ["organisation_id"], ["organisations.id"], name="fk_summaries_organisation_id_organisations"
        ),
        sa.ForeignKeyConstraint(["cylinder_id"], ["cylinders.id"], name="fk_summaries_cylinder_id_cylinders"),
        sa.PrimaryKeyConstraint("id", name="pk_summaries"),
        sa.UniqueConstraint("cylinder_id", name="uq_summaries_cylinder_id"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_summaries_organisation_id_judged_by", "summaries", ["organisation_id", "judged_by"])


def downgrade() -> None:
    op.drop_table("summaries")
