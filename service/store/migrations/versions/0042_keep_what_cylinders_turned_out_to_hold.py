"""Keep what cylinders turned out to hold, with the verdict that stood before

Revision ID: 0042
Revises: 0019
"""

import sqlalchemy as sa
from alembic import op
from service.store.types import BigId, Json, UtcDateTime

revision = "0042"
down_revision = "0020"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "analyses",
        sa.Column("id", BigId, nullable=False),
        sa.Column("organisation_id", BigId, nullable=False),
        sa.Column("cylinder_id", BigId, nullable=False),
        sa.Column("epoch", sa.Integer, nullable=False),
        sa.Column("kind", sa.String(16), nullable=False),
        sa.Column("designation", sa.String(60), nullable=True),
        sa.Column("state", sa.String(16), nullable=True),
        sa.Column("mass_fractions", Json, nullable=True),
        sa.Column("mass_fraction_uncertainty", sa.Float, nullable=True),
        sa.Column("non_condensables_percent", sa.Float, nullable=True),
        sa.Column("moisture_ppm", sa.Float, nullable=True),
        sa.Column("acid_ppm", sa.Float, nullable=True),
        sa.Column("oil_percent", sa.Float, nullable=True),
        sa.Column("method", sa.String(120), nullable=True),
        sa.Column("laboratory", sa.String(200), nullable=True),
        sa.Column("number", sa.String(80), nullable=True),
        sa.Column("note", sa.Text, nullable=True),
        sa.Column("verdict_id", BigId, nullable=True),
        sa.Column("temp_bias_k", sa.Float, nullable=True),
        sa.Column("pressure_bias_pa", sa.Float, nullable=True),
        sa.Column("sampled_at", UtcDateTime, nullable=False),
        sa.Column("recorded_at", UtcDateTime, nullable=False),
        sa.Column("recorded_by", sa.String(120), nullable=False),
        *(_of(name, target) for name, target in _TARGETS.items()),
        sa.PrimaryKeyConstraint("id", name="pk_analyses"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_analyses_organisation_id_id", "analyses", ["organisation_id", "id"])
    op.create_index("ix_analyses_cylinder_id_epoch", "analyses", ["cylinder_id", "epoch"])


def downgrade() -> None:
    op.drop_table("analyses")


_TARGETS = {"organisation_id": "organisations", "cylinder_id": "cylinders", "verdict_id": "verdicts"}


def _of(column: str, target: str) -> sa.ForeignKeyConstraint:
    return sa.ForeignKeyConstraint([column], [f"{target}.id"], name=f"fk_analyses_{column}_{target}")
