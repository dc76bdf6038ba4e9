"""Keep mappings of foreign messages with every version, and more of what could not be read

Revision ID: 0020
Revises: 0019
"""

import sqlalchemy as sa
from alembic import op
from service.store.types import BigId, Json, UtcDateTime

revision = "0020"
down_revision = "0019"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "mappings",
        sa.Column("id", BigId, nullable=False),
        sa.Column("organisation_id", BigId, nullable=False),
        sa.Column("name", sa.String(64), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("document", Json, nullable=True),
        sa.Column("saved_at", UtcDateTime, nullable=False),
        sa.Column("saved_by", sa.String(120), nullable=False),
        sa.ForeignKeyConstraint(
            ["organisation_id"], ["organisations.id"], name="fk_mappings_organisation_id_organisations"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_mappings"),
        sa.UniqueConstraint(
            "organisation_id", "name", "version", name="uq_mappings_organisation_id_name_version"
        ),
        sqlite_autoincrement=True,
    )
    with op.batch_alter_table("not_understood") as batch:
        batch.add_column(sa.Column("topic", sa.String(400), nullable=True))
        batch.add_column(sa.Column("message", Json, nullable=True))


def downgrade() -> None:
    with op.batch_alter_table("not_understood") as batch:
        batch.drop_column("message")
        batch.drop_column("topic")
    op.drop_table("mappings")
