"""How the time left is said, and that it counts down."""

from datetime import timedelta

import pytest

from service.board.views.hookup import wait
from service.store.live import TimeLeft

MINUTES = TimeLeft(expected_s=350.0, least_s=245.0, most_s=655.0)


@pytest.mark.parametrize(
    ("left", "passed_s", "said"),
    [
        (MINUTES, 0, "settled in about 6\u202fmin, 4 to 11"),
        (MINUTES, 60, "settled in about 5\u202fmin, 3 to 10"),
        (TimeLeft(350.0, 245.0, 655.0), 121, ""),
        (TimeLeft(50.0, 10.0, 100.0), 0, "settled in about 1\u202fmin, at most 2"),
        (TimeLeft(50.0, 10.0, 100.0), 45, "settled in less than a minute"),
        (TimeLeft(50.0, 10.0, 100.0), 100, ""),
        (TimeLeft(9000.0, 4300.0, 18000.0), 0, "settled in about 2.5\u202fh, 1.2 to 5.0"),
        (None, 0, ""),
    ],
)
def test_the_wait_is_said_with_its_range_and_counts_down(
    left: TimeLeft | None, passed_s: float, said: str
) -> None:
    assert wait(left, timedelta(seconds=passed_s)) == said
