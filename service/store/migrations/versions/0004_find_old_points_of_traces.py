"""Find old points of traces

Revision ID: 0004
Revises: 0003
"""

from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_index(op.f("ix_trace_at"), "trace", ["at"], postgresql_using="brin")


def downgrade() -> None:
    op.drop_index(op.f("ix_trace_at"), table_name="trace")
