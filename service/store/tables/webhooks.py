"""Subscriptions of fleet systems, how far each has got in the events, and what came of every attempt."""

import sqlalchemy as sa

from service.store.tables.base import owned_table, reference
from service.store.types import BigId, Json, UtcDateTime

webhooks = owned_table(
    "webhooks",
    sa.Column("url", sa.String(2000), nullable=False),
    sa.Column("types", Json, nullable=False),
    sa.Column("mode", sa.String(16), nullable=False),
    sa.Column("description", sa.String(200), nullable=True),
    sa.Column("sealed_secret", sa.Text, nullable=False),
    sa.Column("sealed_previous_secret", sa.Text, nullable=True),
    sa.Column("previous_secret_until", UtcDateTime, nullable=True),
    sa.Column("created_at", UtcDateTime, nullable=False),
    sa.Column("created_by", sa.String(120), nullable=False),
    sa.Column("disabled_at", UtcDateTime, nullable=True),
    sa.Column("disabled_reason", sa.String(200), nullable=True),
)

# The outbox is the events table itself, written in the transaction that each event tells of; a cursor is a
# position in it. A subscription has one live cursor, and one bounded cursor more for every replay asked for.
webhook_cursors = owned_table(
    "webhook_cursors",
    reference("webhook_id", "webhooks"),
    sa.Column("kind", sa.String(8), nullable=False),
    sa.Column("position", BigId, nullable=False),
    sa.Column("last_event_id", BigId, nullable=True),
    sa.Column("failures", sa.Integer, nullable=False, server_default="0"),
    sa.Column("failing_since", UtcDateTime, nullable=True),
    sa.Column("due_at", UtcDateTime, nullable=False),
    sa.Column("lease", sa.String(64), nullable=True),
    sa.Column("leased_until", UtcDateTime, nullable=True),
    sa.Column("created_at", UtcDateTime, nullable=False),
    sa.Index(None, "webhook_id"),
    sa.Index(None, "due_at"),
)

webhook_attempts = owned_table(
    "webhook_attempts",
    reference("webhook_id", "webhooks"),
    sa.Column("message_id", sa.String(64), nullable=False),
    sa.Column("event_type", sa.String(64), nullable=False),
    sa.Column("attempted_at", UtcDateTime, nullable=False),
    sa.Column("status", sa.Integer, nullable=True),
    sa.Column("error", sa.String(300), nullable=True),
    sa.Column("duration_s", sa.Float, nullable=False),
    sa.Column("excerpt", sa.String(512), nullable=False),
    sa.Index(None, "webhook_id", "id"),
    sa.Index(None, "attempted_at"),
)
