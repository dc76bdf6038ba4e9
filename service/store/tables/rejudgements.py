"""Cylinders that wait to be judged again because an instrument was found wrong or right; rows go once it is done."""

import sqlalchemy as sa

from service.store.tables.base import owned_table, reference
from service.store.types import UtcDateTime

rejudgements = owned_table(
    "rejudgements",
    reference("cylinder_id", "cylinders"),
    # The alarm that lists what came of it; none after a check by hand.
    reference("alarm_id", "alarms", nullable=True),
    sa.Column("asked_at", UtcDateTime, nullable=False),
    sa.Index(None, "organisation_id", "id"),
)
