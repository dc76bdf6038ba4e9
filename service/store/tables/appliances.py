"""Equipment with its full charge, and what was done about its leaks."""

import sqlalchemy as sa

from service.store.tables.base import owned_table, reference
from service.store.types import UtcDateTime

appliances = owned_table(
    "appliances",
    sa.Column("owner", sa.String(120), nullable=False, server_default=""),
    sa.Column("location", sa.String(200), nullable=False),
    sa.Column("name", sa.String(120), nullable=False),
    sa.Column("circuit", sa.String(80), nullable=False, server_default=""),
    sa.Column("designation", sa.String(24), nullable=False),
    sa.Column("full_charge_kg", sa.Float, nullable=False),
    sa.Column("kind", sa.String(40), nullable=False),
    sa.Column("leak_method", sa.String(16), nullable=False),
    sa.Column("created_at", UtcDateTime, nullable=False),
    sa.UniqueConstraint("organisation_id", "owner", "location", "name", "circuit"),
)
appliance_works = owned_table(
    "appliance_works",
    reference("appliance_id", "appliances"),
    sa.Column("kind", sa.String(32), nullable=False),
    sa.Column("passed", sa.Boolean, nullable=True),
    sa.Column("technician", sa.String(120), nullable=True),
    sa.Column("note", sa.Text, nullable=True),
    sa.Column("occurred_at", UtcDateTime, nullable=False),
    sa.Column("recorded_at", UtcDateTime, nullable=False),
    sa.Column("recorded_by", sa.String(120), nullable=False),
    sa.Index(None, "appliance_id", "occurred_at"),
)
