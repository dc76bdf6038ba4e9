"""What somebody has typed into a form and not finished, so that a dead phone loses nothing."""

import sqlalchemy as sa

from service.store.tables.base import owned_table
from service.store.types import Json, UtcDateTime

drafts = owned_table(
    "drafts",
    sa.Column("form", sa.String(120), nullable=False),
    sa.Column("document", Json, nullable=False),
    sa.Column("changed_at", UtcDateTime, nullable=False),
    sa.Column("changed_by", sa.String(120), nullable=False),
    sa.UniqueConstraint("organisation_id", "form"),
)
