"""Keep what each settled pair told of its instruments, and when verdicts were asked for again

Revision ID: 0022
Revises: 0021
"""

import sqlalchemy as sa
from alembic import op
from service.store.types import Json

revision = "0022"
down_revision = "0021"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("instrument_errors", sa.Column("seen", Json, nullable=True))
    op.add_column(
        "instrument_errors", sa.Column("asked", sa.Boolean, nullable=False, server_default=sa.false())
    )
    op.create_index("ix_instrument_errors_pair_id", "instrument_errors", ["pair_id"])


def downgrade() -> None:
    op.drop_index("ix_instrument_errors_pair_id", "instrument_errors")
    op.drop_column("instrument_errors", "asked")
    op.drop_column("instrument_errors", "seen")
