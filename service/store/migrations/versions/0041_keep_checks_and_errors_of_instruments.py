"""Keep checks of instruments by hand, and what is believed of their errors

Revision ID: 0041
Revises: 0032
"""

import sqlalchemy as sa
from alembic import op
from service.store.types import BigId, Json, UtcDateTime

revision = "0041"
down_revision = "0032"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "instrument_checks",
        sa.Column("id", BigId, nullable=False),
        sa.Column("organisation_id", BigId, nullable=False),
        sa.Column("device", sa.String(120), nullable=False),
        sa.Column("method", sa.String(16), nullable=False),
        sa.Column("quantity", sa.String(16), nullable=False),
        sa.Column("error", sa.Float, nullable=False),
        sa.Column("uncertainty", sa.Float, nullable=False),
        sa.Column("pressure_pa", sa.Float, nullable=True),
        sa.Column("certificate", sa.String(120), nullable=True),
        sa.Column("note", sa.Text, nullable=True),
        sa.Column("due_at", UtcDateTime, nullable=True),
        sa.Column("checked_at", UtcDateTime, nullable=False),
        sa.Column("recorded_at", UtcDateTime, nullable=False),
        sa.Column("recorded_by", sa.String(120), nullable=False),
        _owner("instrument_checks"),
        sa.PrimaryKeyConstraint("id", name="pk_instrument_checks"),
        sqlite_autoincrement=True,
    )
    op.create_index(
        "ix_instrument_checks_organisation_id_device_id",
        "instrument_checks",
        ["organisation_id", "device", "id"],
    )
    op.create_table(
        "instrument_errors",
        sa.Column("id", BigId, nullable=False),
        sa.Column("organisation_id", BigId, nullable=False),
        sa.Column("thermometer", sa.String(120), nullable=False),
        sa.Column("gauge", sa.String(120), nullable=False),
        sa.Column("at", UtcDateTime, nullable=False),
        sa.Column("check_id", BigId, nullable=True),
        sa.Column("pair_id", BigId, nullable=True),
        sa.Column("cylinder_id", BigId, nullable=True),
        sa.Column("epoch", sa.Integer, nullable=True),
        sa.Column("belief", Json, nullable=False),
        sa.Column("combined_k", sa.Float, nullable=False),
        sa.Column("uncertainty_k", sa.Float, nullable=False),
        sa.Column("doubt", sa.Float, nullable=False),
        _owner("instrument_errors"),
        *(_of(name, target) for name, target in _TARGETS.items()),
        sa.PrimaryKeyConstraint("id", name="pk_instrument_errors"),
        sqlite_autoincrement=True,
    )
    op.create_index(
        "ix_instrument_errors_organisation_id_thermometer_gauge_id",
        "instrument_errors",
        ["organisation_id", "thermometer", "gauge", "id"],
    )
    op.create_index("ix_instrument_errors_cylinder_id_epoch", "instrument_errors", ["cylinder_id", "epoch"])


def downgrade() -> None:
    op.drop_table("instrument_errors")
    op.drop_table("instrument_checks")


_TARGETS = {"check_id": "instrument_checks", "pair_id": "pairs", "cylinder_id": "cylinders"}


def _owner(table: str) -> sa.ForeignKeyConstraint:
    name = f"fk_{table}_organisation_id_organisations"
    return sa.ForeignKeyConstraint(["organisation_id"], ["organisations.id"], name=name)


def _of(column: str, target: str) -> sa.ForeignKeyConstraint:
    name = f"fk_instrument_errors_{column}_{target}"
    return sa.ForeignKeyConstraint([column], [f"{target}.id"], name=name)
