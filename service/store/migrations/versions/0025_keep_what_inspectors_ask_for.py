"""Keep what inspectors ask for: certifications, reclaimers and their acceptance, appliances, custody

Revision ID: 0025
Revises: 0024
"""

import sqlalchemy as sa
from alembic import op
from service.store.types import BigId, UtcDateTime

revision = "0025"
down_revision = "0024"
branch_labels = None
depends_on = None


def owned(name: str, *columns: sa.schema.SchemaItem) -> None:
    op.create_table(
        name,
        sa.Column("id", BigId, nullable=False),
        sa.Column("organisation_id", BigId, nullable=False),
        *columns,
        sa.ForeignKeyConstraint(
            ["organisation_id"], ["organisations.id"], name=op.f(f"fk_{name}_organisation_id_organisations")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f(f"pk_{name}")),
        sqlite_autoincrement=True,
    )


def upgrade() -> None:
    with op.batch_alter_table("people") as batch:
        batch.add_column(sa.Column("certification_type", sa.String(40), nullable=True))
        batch.add_column(sa.Column("certification_organisation", sa.String(120), nullable=True))
    owned(
        "reclaimers",
        sa.Column("name", sa.String(200), nullable=False),
        sa.Column("address", sa.String(300), nullable=False),
        sa.Column("certification_number", sa.String(80), nullable=True),
        sa.Column("updated_at", UtcDateTime(), nullable=False),
        sa.Column("updated_by", sa.String(120), nullable=False),
        sa.UniqueConstraint("organisation_id", "name", name=op.f("uq_reclaimers_organisation_id_name")),
    )
    owned(
        "acceptances",
        sa.Column("exchange_id", BigId, nullable=False),
        sa.Column("net_kg", sa.Float(), nullable=False),
        sa.Column("lot", sa.String(80), nullable=True),
        sa.Column("accepted_at", UtcDateTime(), nullable=False),
        sa.Column("recorded_at", UtcDateTime(), nullable=False),
        sa.Column("recorded_by", sa.String(120), nullable=False),
        sa.Column("note", sa.Text(), nullable=True),
        sa.ForeignKeyConstraint(
            ["exchange_id"], ["exchanges.id"], name=op.f("fk_acceptances_exchange_id_exchanges")
        ),
        sa.UniqueConstraint(
            "organisation_id", "exchange_id", name=op.f("uq_acceptances_organisation_id_exchange_id")
        ),
    )
    owned(
        "appliances",
        sa.Column("owner", sa.String(120), nullable=False, server_default=""),
        sa.Column("location", sa.String(200), nullable=False),
        sa.Column("name", sa.String(120), nullable=False),
        sa.Column("circuit", sa.String(80), nullable=False, server_default=""),
        sa.Column("designation", sa.String(24), nullable=False),
        sa.Column("full_charge_kg", sa.Float(), nullable=False),
        sa.Column("kind", sa.String(40), nullable=False),
        sa.Column("leak_method", sa.String(16), nullable=False),
        sa.Column("created_at", UtcDateTime(), nullable=False),
        sa.UniqueConstraint(
            "organisation_id", "owner", "location", "name", "circuit",
            name=op.f("uq_appliances_organisation_id_owner_location_name_circuit"),
        ),
    )
    owned(
        "appliance_works",
        sa.Column("appliance_id", BigId, nullable=False),
        sa.Column("kind", sa.String(32), nullable=False),
        sa.Column("passed", sa.Boolean(), nullable=True),
        sa.Column("technician", sa.String(120), nullable=True),
        sa.Column("note", sa.Text(), nullable=True),
        sa.Column("occurred_at", UtcDateTime(), nullable=False),
        sa.Column("recorded_at", UtcDateTime(), nullable=False),
        sa.Column("recorded_by", sa.String(120), nullable=False),
        sa.ForeignKeyConstraint(
            ["appliance_id"], ["appliances.id"], name=op.f("fk_appliance_works_appliance_id_appliances")
        ),
    )
    op.create_index(
        op.f("ix_appliance_works_appliance_id_occurred_at"), "appliance_works", ["appliance_id", "occurred_at"]
    )
    owned(
        "custody",
        sa.Column("cylinder_id", BigId, nullable=False),
        sa.Column("holder", sa.String(200), nullable=False),
        sa.Column("since", UtcDateTime(), nullable=False),
        sa.Column("due_on", sa.Date(), nullable=True),
        sa.Column("returned_at", UtcDateTime(), nullable=True),
        sa.Column("note", sa.Text(), nullable=True),
        sa.Column("recorded_by", sa.String(120), nullable=False),
        sa.ForeignKeyConstraint(
            ["cylinder_id"], ["cylinders.id"], name=op.f("fk_custody_cylinder_id_cylinders")
        ),
    )
    op.create_index(op.f("ix_custody_cylinder_id_id"), "custody", ["cylinder_id", "id"])


def downgrade() -> None:
    for name in ("custody", "appliance_works", "appliances", "acceptances", "reclaimers"):
        op.drop_table(name)
    with op.batch_alter_table("people") as batch:
        batch.drop_column("certification_organisation")
        batch.drop_column("certification_type")
