"""Where refrigerant is sent: reclaimers and destruction facilities with what an inspector asks of them."""

import sqlalchemy as sa

from service.store.tables.base import owned_table, reference
from service.store.types import UtcDateTime

reclaimers = owned_table(
    "reclaimers",
    sa.Column("name", sa.String(200), nullable=False),
    sa.Column("address", sa.String(300), nullable=False),
    sa.Column("certification_number", sa.String(80), nullable=True),
    sa.Column("updated_at", UtcDateTime, nullable=False),
    sa.Column("updated_by", sa.String(120), nullable=False),
    sa.UniqueConstraint("organisation_id", "name"),
)
# What the receiver says of an exchange; the exchange itself is never changed.
acceptances = owned_table(
    "acceptances",
    reference("exchange_id", "exchanges"),
    sa.Column("net_kg", sa.Float, nullable=False),
    sa.Column("lot", sa.String(80), nullable=True),
    sa.Column("accepted_at", UtcDateTime, nullable=False),
    sa.Column("recorded_at", UtcDateTime, nullable=False),
    sa.Column("recorded_by", sa.String(120), nullable=False),
    sa.Column("note", sa.Text, nullable=True),
    sa.UniqueConstraint("organisation_id", "exchange_id"),
)
