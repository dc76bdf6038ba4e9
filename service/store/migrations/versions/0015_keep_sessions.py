"""Keep sessions, so that signing out ends one

Revision ID: 0015
Revises: 0024
"""

import sqlalchemy as sa
from alembic import op
from service.store.types import BigId, UtcDateTime

revision = "0015"
down_revision = "0030"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "sessions",
        sa.Column("id", BigId, nullable=False),
        sa.Column("organisation_id", BigId, nullable=False),
        sa.Column("person_id", BigId, nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.Column("epoch", sa.Integer(), nullable=False),
        sa.Column("began_at", UtcDateTime, nullable=False),
        sa.Column("ended_at", UtcDateTime, nullable=True),
        sa.ForeignKeyConstraint(
            ["organisation_id"], ["organisations.id"], name=op.f("fk_sessions_organisation_id_organisations")
        ),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name=op.f("fk_sessions_person_id_people")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sessions")),
        sa.UniqueConstraint("digest", name=op.f("uq_sessions_digest")),
        sqlite_autoincrement=True,
    )


def downgrade() -> None:
    op.drop_table("sessions")
