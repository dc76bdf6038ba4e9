"""Keep the gist of each verdict beside its document, what supervisors release, and a key to compare serials by

Revision ID: 0030
Revises: 0024
"""

import sqlalchemy as sa
from alembic import op
from service.cylinders.plausibility import serial_key
from service.store.types import BigId, Json, UtcDateTime

revision = "0030"
down_revision = "0025"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("verdicts", sa.Column("gist", Json, nullable=True))
    op.create_table(
        "releases",
        sa.Column("id", BigId, nullable=False),
        sa.Column("organisation_id", BigId, nullable=False),
        sa.Column("cylinder_id", BigId, nullable=False),
        sa.Column("epoch", sa.Integer, nullable=False),
        sa.Column("code", sa.String(32), nullable=False),
        sa.Column("reason", sa.Text, nullable=False),
        sa.Column("released_at", UtcDateTime, nullable=False),
        sa.Column("released_by", sa.String(120), nullable=False),
        sa.ForeignKeyConstraint(["organisation_id"], ["organisations.id"], name="fk_releases_organisation_id_organisations"),
        sa.ForeignKeyConstraint(["cylinder_id"], ["cylinders.id"], name="fk_releases_cylinder_id_cylinders"),
        sa.PrimaryKeyConstraint("id", name="pk_releases"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_releases_cylinder_id_epoch", "releases", ["cylinder_id", "epoch"])
    op.add_column("cylinders", sa.Column("serial_key", sa.String(64), nullable=True))
    cylinders = sa.table("cylinders", sa.column("id", BigId), sa.column("serial"), sa.column("serial_key"))
    connection = op.get_bind()
    for row in connection.execute(sa.select(cylinders.c.id, cylinders.c.serial)).all():
        change = sa.update(cylinders).where(cylinders.c.id == row.id)
        connection.execute(change.values(serial_key=serial_key(row.serial)))
    op.create_index("ix_cylinders_organisation_id_serial_key", "cylinders", ["organisation_id", "serial_key"])


def downgrade() -> None:
    op.drop_index("ix_cylinders_organisation_id_serial_key", "cylinders")
    with op.batch_alter_table("cylinders") as batch:
        batch.drop_column("serial_key")
    op.drop_index("ix_releases_cylinder_id_epoch", "releases")
    op.drop_table("releases")
    with op.batch_alter_table("verdicts") as batch:
        batch.drop_column("gist")
