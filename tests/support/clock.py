"""A clock that tests move."""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta


@dataclass
class Clock:
    """Stands still until it is moved."""

    at: datetime = datetime(2026, 5, 4, 12, 0, tzinfo=UTC)

    def __call__(self) -> datetime:
        """The time."""
        return self.at

    def forward(self, **by: float) -> datetime:
        """Later."""
        self.at += timedelta(**by)
        return self.at
