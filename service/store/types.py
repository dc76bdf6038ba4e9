"""Column types that mean the same on SQLite and PostgreSQL."""

from datetime import UTC, datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy.dialects.postgresql import JSONB

BigId = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
"""Identity column; SQLite numbers rows only in a plain INTEGER primary key."""
Json = sa.JSON(none_as_null=True).with_variant(JSONB(none_as_null=True), "postgresql")


class UtcDateTime(sa.TypeDecorator[datetime]):
    """An instant: aware in Python, UTC in the database; a naive datetime is refused."""

    impl = sa.DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: sa.Dialect) -> datetime | None:
        """Into the database, UTC; SQLite stores no zone, so it is dropped there."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError(f"a naive datetime has no instant: {value!r}")
        instant = value.astimezone(UTC)
        return instant.replace(tzinfo=None) if dialect.name == "sqlite" else instant

    def process_result_value(self, value: Any, _dialect: sa.Dialect) -> datetime | None:
        """Out of the database, always aware."""
        if value is None:
            return None
        instant: datetime = value if value.tzinfo else value.replace(tzinfo=UTC)
        return instant.astimezone(UTC)
