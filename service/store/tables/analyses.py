"""What cylinders turned out to hold, and the verdict that stood before anybody knew; a row is never changed."""

import sqlalchemy as sa

from service.store.tables.base import owned_table, reference
from service.store.types import Json, UtcDateTime

analyses = owned_table(
    "analyses",
    reference("cylinder_id", "cylinders"),
    sa.Column("epoch", sa.Integer, nullable=False),
    sa.Column("kind", sa.String(16), nullable=False),
    # What it established; no designation where it is none of the catalogue or was not told.
    sa.Column("designation", sa.String(60), nullable=True),
    sa.Column("state", sa.String(16), nullable=True),
    sa.Column("mass_fractions", Json, nullable=True),
    sa.Column("mass_fraction_uncertainty", sa.Float, nullable=True),
    sa.Column("non_condensables_percent", sa.Float, nullable=True),
    sa.Column("moisture_ppm", sa.Float, nullable=True),
    sa.Column("acid_ppm", sa.Float, nullable=True),
    sa.Column("oil_percent", sa.Float, nullable=True),
    sa.Column("method", sa.String(120), nullable=True),
    sa.Column("laboratory", sa.String(200), nullable=True),
    sa.Column("number", sa.String(80), nullable=True),
    sa.Column("note", sa.Text, nullable=True),
    # Before the first result on these contents; none where nothing had been judged.
    reference("verdict_id", "verdicts", nullable=True),
    # What the instruments that it rests on were taken for.
    sa.Column("temp_bias_k", sa.Float, nullable=True),
    sa.Column("pressure_bias_pa", sa.Float, nullable=True),
    sa.Column("sampled_at", UtcDateTime, nullable=False),
    sa.Column("recorded_at", UtcDateTime, nullable=False),
    sa.Column("recorded_by", sa.String(120), nullable=False),
    sa.Index(None, "organisation_id", "id"),
    sa.Index(None, "cylinder_id", "epoch"),
)
