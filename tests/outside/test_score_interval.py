"""Wilson's interval against a published comparison of intervals."""

import pytest

from service.verdict.truth.intervals import proportion

NEWCOMBE = [
    (81, 263, 0.2553, 0.3662),
    (15, 148, 0.0624, 0.1605),
    (0, 20, 0.0000, 0.1611),
    (1, 29, 0.0061, 0.1718),
]
"""R. G. Newcombe, Stat. Med. 17 (1998) 857, table I, method 3, the score method without continuity correction (from
memory)."""


@pytest.mark.parametrize(("count", "of", "low", "high"), NEWCOMBE)
def test_the_score_interval_is_the_published_one(count: int, of: int, low: float, high: float) -> None:
    found = proportion(count, of)
    assert (found.low, found.high) == (pytest.approx(low, abs=5e-5), pytest.approx(high, abs=5e-5))
