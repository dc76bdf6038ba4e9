"""When to try again, and when to give a receiver up: values and rules, no clock and no randomness."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from email.utils import parsedate_to_datetime


@dataclass(frozen=True, slots=True)
class Backoff:
    """Exponential delays with jitter, bounded, and the span of failures after which to stop.

    The first delay follows the Standard Webhooks suggestion (5 s); the growth reaches its suggested spacing
    of hours after eight tries. ``give_up_after`` is our choice: three days, so that a receiver that broke on
    a Friday evening is still being tried on Monday.
    """

    first: timedelta = timedelta(seconds=5)
    factor: float = 3.0
    ceiling: timedelta = timedelta(hours=4)
    give_up_after: timedelta = timedelta(hours=72)
    longest_heeded: timedelta = timedelta(hours=24)

    def delay(self, failures: int, jitter: float, retry_after: timedelta | None = None) -> timedelta:
        """Wait after the n-th failure in a row.

        Parameters
        ----------
        failures
            How many attempts have failed in a row, at least 1.
        jitter
            Uniform in [0, 1): half of the delay is fixed, half is spread by this, so that many subscriptions
            do not return in step.
        retry_after
            What the receiver asked for; never shortened except by ``longest_heeded``.
        """
        exponent = min(failures - 1, 64)
        full = min(self.ceiling.total_seconds(), self.first.total_seconds() * self.factor**exponent)
        wait = timedelta(seconds=full * (0.5 + 0.5 * jitter))
        return wait if retry_after is None else max(wait, min(retry_after, self.longest_heeded))

    def exhausted(self, failing_since: datetime, now: datetime) -> bool:
        """Tell whether nothing has been accepted for so long that the subscription is to be disabled."""
        return now - failing_since >= self.give_up_after


def retry_after(headers: Mapping[str, str], now: datetime) -> timedelta | None:
    """Read a ``Retry-After`` header, seconds or HTTP date; nonsense and the past count as absent."""
    text = headers.get("Retry-After", "").strip()
    if text.isascii() and text.isdigit() and len(text) <= 9:
        return timedelta(seconds=int(text))
    try:
        moment = parsedate_to_datetime(text)
    except (TypeError, ValueError):
        return None
    moment = moment if moment.tzinfo else moment.replace(tzinfo=UTC)
    return moment - now if moment > now else None
