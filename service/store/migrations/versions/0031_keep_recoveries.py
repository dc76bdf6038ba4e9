"""Keep recoveries out of equipment and the cylinders that each fills

Revision ID: 0031
Revises: 0015
"""

import sqlalchemy as sa
from alembic import op
from service.store.types import BigId, Json, UtcDateTime

revision = "0031"
down_revision = "0015"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "recoveries",
        sa.Column("id", BigId, nullable=False),
        sa.Column("organisation_id", BigId, nullable=False),
        sa.Column("designation", sa.String(24), nullable=True),
        sa.Column("expected_kg", sa.Float, nullable=True),
        sa.Column("phase", sa.String(8), nullable=False),
        sa.Column("equipment", Json, nullable=False),
        sa.Column("standing", Json, nullable=True),
        sa.Column("machine_made_on", sa.Date, nullable=True),
        sa.Column("small_appliance", sa.Boolean, nullable=False),
        sa.Column("compressor_runs", sa.Boolean, nullable=False),
        sa.Column("technician", sa.String(120), nullable=True),
        sa.Column("certification_number", sa.String(80), nullable=True),
        sa.Column("occurred_at", UtcDateTime, nullable=False),
        sa.Column("recorded_by", sa.String(120), nullable=False),
        sa.Column("ended_at", UtcDateTime, nullable=True),
        sa.Column("ended_by", sa.String(120), nullable=True),
        sa.Column("ending", Json, nullable=True),
        sa.ForeignKeyConstraint(
            ["organisation_id"], ["organisations.id"], name="fk_recoveries_organisation_id_organisations"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_recoveries"),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "recovery_fills",
        sa.Column("id", BigId, nullable=False),
        sa.Column("organisation_id", BigId, nullable=False),
        sa.Column("recovery_id", BigId, nullable=False),
        sa.Column("cylinder_id", BigId, nullable=False),
        sa.Column("room_kg", sa.Float, nullable=False),
        sa.Column("gross_before_kg", sa.Float, nullable=True),
        sa.Column("target_gross_kg", sa.Float, nullable=False),
        sa.Column("begun_at", UtcDateTime, nullable=True),
        sa.Column("ended_at", UtcDateTime, nullable=True),
        sa.Column("transfer_id", BigId, nullable=True),
        *(
            sa.ForeignKeyConstraint([column], [f"{table}.id"], name=f"fk_recovery_fills_{column}_{table}")
            for column, table in (
                ("organisation_id", "organisations"),
                ("recovery_id", "recoveries"),
                ("cylinder_id", "cylinders"),
                ("transfer_id", "transfers"),
            )
        ),
        sa.PrimaryKeyConstraint("id", name="pk_recovery_fills"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_recovery_fills_recovery_id_id", "recovery_fills", ["recovery_id", "id"])
    op.create_index("ix_recovery_fills_cylinder_id_ended_at", "recovery_fills", ["cylinder_id", "ended_at"])


def downgrade() -> None:
    op.drop_table("recovery_fills")
    op.drop_table("recoveries")
