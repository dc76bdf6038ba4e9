"""Verdicts as they were reached; the columns beside the document are what lists are filtered by."""

import sqlalchemy as sa

from service.store.tables.base import owned_table, reference
from service.store.types import Json, UtcDateTime

verdicts = owned_table(
    "verdicts",
    reference("cylinder_id", "cylinders"),
    sa.Column("epoch", sa.Integer, nullable=False),
    reference("pair_id", "pairs", nullable=True),
    sa.Column("reached_at", UtcDateTime, nullable=False),
    sa.Column("identity_finding", sa.String(16), nullable=False),
    sa.Column("designation", sa.String(24), nullable=True),
    sa.Column("probability", sa.Float, nullable=True),
    sa.Column("contamination_finding", sa.String(16), nullable=False),
    sa.Column("contents_finding", sa.String(16), nullable=False),
    sa.Column("disposition_code", sa.String(32), nullable=False),
    sa.Column("model_version", sa.String(64), nullable=False),
    sa.Column("document", Json, nullable=False),
    # What the judgement of the cylinder needs of the document; none in rows of the first version.
    sa.Column("gist", Json, nullable=True),
    sa.Index(None, "cylinder_id", "id"),
)
