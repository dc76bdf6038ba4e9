"""Cylinders with their stamped marks, and the epochs of their contents."""

import sqlalchemy as sa

from service.store.tables.base import owned_table, reference
from service.store.types import BigId, Json, UtcDateTime

cylinders = owned_table(
    "cylinders",
    sa.Column("serial", sa.String(64), nullable=False),
    # What serials are compared by. Databases of the first version may hold serials that differ only in case.
    sa.Column("serial_key", sa.String(64), nullable=True),
    reference("place_id", "places", nullable=True),
    sa.Column("marks", sa.String(200), nullable=True),
    sa.Column("requalification_stamp", sa.String(64), nullable=True),
    sa.Column("water_capacity_kg", sa.Float, nullable=True),
    sa.Column("tare_kg", sa.Float, nullable=True),
    sa.Column("valves", Json, nullable=True),
    sa.Column("owner", sa.String(120), nullable=True),
    sa.Column("notes", sa.Text, nullable=True),
    sa.Column("claimed_designation", sa.String(24), nullable=True),
    sa.Column("gross_mass_kg", sa.Float, nullable=True),
    sa.Column("gross_mass_at", UtcDateTime, nullable=True),
    sa.Column("flammable_marked", sa.Boolean, nullable=False, server_default=sa.false()),
    sa.Column("standing", sa.String(16), nullable=False, server_default="in-service"),
    # The owner's statement that a longer period than five years holds, and what else is stamped about dates.
    sa.Column("requalification_condition", sa.String(40), nullable=True),
    sa.Column("requalification_statement", sa.Text, nullable=True),
    sa.Column("requalify_by", sa.Date, nullable=True),
    sa.Column("service_life_ends", sa.Date, nullable=True),
    sa.Column("owner_consents", sa.Boolean, nullable=True),
    sa.Column("epoch", sa.Integer, nullable=False, server_default="1"),
    # The newest verdict of the current epoch; not a foreign key, which would close a circle.
    sa.Column("verdict_id", BigId, nullable=True),
    sa.Column("version", sa.Integer, nullable=False, server_default="1"),
    sa.Column("created_at", UtcDateTime, nullable=False),
    sa.Column("updated_at", UtcDateTime, nullable=False),
    sa.UniqueConstraint("organisation_id", "serial"),
    sa.Index(None, "organisation_id", "serial_key"),
)

epochs = owned_table(
    "epochs",
    reference("cylinder_id", "cylinders"),
    sa.Column("number", sa.Integer, nullable=False),
    sa.Column("started_at", UtcDateTime, nullable=False),
    sa.Column("cause", sa.String(32), nullable=False),
    sa.Column("contents", Json, nullable=True),
    sa.UniqueConstraint("cylinder_id", "number"),
)
