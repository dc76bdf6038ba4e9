"""Keep which cylinders wait to be judged again because of an instrument

Revision ID: 0043
Revises: 0060
"""

import sqlalchemy as sa
from alembic import op
from service.store.types import BigId, UtcDateTime

revision = "0043"
down_revision = "0060"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "rejudgements",
        sa.Column("id", BigId, nullable=False),
        sa.Column("organisation_id", BigId, nullable=False),
        sa.Column("cylinder_id", BigId, nullable=False),
        sa.Column("alarm_id", BigId, nullable=True),
        sa.Column("asked_at", UtcDateTime, nullable=False),
        *(_of(name, target) for name, target in _TARGETS.items()),
        sa.PrimaryKeyConstraint("id", name="pk_rejudgements"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_rejudgements_organisation_id_id", "rejudgements", ["organisation_id", "id"])


def downgrade() -> None:
    op.drop_table("rejudgements")


_TARGETS = {"organisation_id": "organisations", "cylinder_id": "cylinders", "alarm_id": "alarms"}


def _of(column: str, target: str) -> sa.ForeignKeyConstraint:
    return sa.ForeignKeyConstraint([column], [f"{target}.id"], name=f"fk_rejudgements_{column}_{target}")
