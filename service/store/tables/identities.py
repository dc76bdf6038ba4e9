"""OpenID Connect: the provider an organisation signs its people in with, and who is who there."""

import sqlalchemy as sa

from service.store.tables.base import owned_table, reference
from service.store.types import UtcDateTime

identity_providers = owned_table(
    "identity_providers",
    sa.Column("issuer", sa.String(500), nullable=False),
    sa.Column("client_id", sa.String(200), nullable=False),
    sa.Column("sealed_client_secret", sa.Text, nullable=False),
    # The role of a person seen for the first time; without one, only people already linked get in.
    sa.Column("newcomer_role", sa.String(16), nullable=True),
    sa.Column("created_at", UtcDateTime, nullable=False),
    sa.UniqueConstraint("organisation_id"),
)

identities = owned_table(
    "identities",
    reference("person_id", "people"),
    sa.Column("issuer", sa.String(500), nullable=False),
    sa.Column("subject", sa.String(255), nullable=False),
    sa.Column("linked_at", UtcDateTime, nullable=False),
    sa.UniqueConstraint("organisation_id", "issuer", "subject"),
)
