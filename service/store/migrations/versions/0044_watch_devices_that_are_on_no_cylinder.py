"""Keep how a device on no cylinder has read since it was left alone

Revision ID: 0044
Revises: 0043
"""

import sqlalchemy as sa
from alembic import op
from service.store.types import BigId, UtcDateTime

revision = "0044"
down_revision = "0043"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "idle_runs",
        sa.Column("id", BigId, nullable=False),
        sa.Column("organisation_id", BigId, nullable=False),
        sa.Column("device", sa.String(120), nullable=False),
        sa.Column("quantity", sa.String(16), nullable=False),
        sa.Column("since", UtcDateTime, nullable=False),
        sa.Column("last_at", UtcDateTime, nullable=False),
        sa.Column("rounds", sa.Integer, nullable=False),
        sa.Column("total", sa.Float, nullable=False),
        sa.Column("low", sa.Float, nullable=False),
        sa.Column("high", sa.Float, nullable=False),
        sa.Column("beside", sa.Integer, nullable=False),
        sa.Column("low_k", sa.Float, nullable=True),
        sa.Column("high_k", sa.Float, nullable=True),
        sa.ForeignKeyConstraint(
            ["organisation_id"], ["organisations.id"], name="fk_idle_runs_organisation_id_organisations"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_idle_runs"),
        sa.UniqueConstraint("organisation_id", "device", "quantity", name=_UNIQUE),
        sqlite_autoincrement=True,
    )


_UNIQUE = "uq_idle_runs_organisation_id_device_quantity"


def downgrade() -> None:
    op.drop_table("idle_runs")
