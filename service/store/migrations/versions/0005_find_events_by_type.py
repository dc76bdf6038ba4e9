"""Find events by type

Revision ID: 0005
Revises: 0004
"""

from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_index("ix_events_organisation_id_type_id", "events", ["organisation_id", "type", "id"])


def downgrade() -> None:
    op.drop_index("ix_events_organisation_id_type_id", "events")
