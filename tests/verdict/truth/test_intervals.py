"""How little few cases say."""

import pytest

from service.verdict.truth.intervals import proportion


def test_none_of_none_says_nothing() -> None:
    found = proportion(0, 0)
    assert (found.share, found.low, found.high, found.needed) == (None, None, None, None)


def test_all_of_few_leaves_room_below_and_none_above() -> None:
    found = proportion(20, 20)
    assert found.high == 1.0
    assert found.low == pytest.approx(1 - (proportion(0, 20).high or 0.0))


def test_more_cases_of_the_same_share_say_more() -> None:
    few, many = proportion(9, 10), proportion(900, 1000)
    assert None not in (few.low, few.high, many.low, many.high)
    assert few.low < many.low < 0.9 < many.high < few.high  # type: ignore[operator]


def test_a_share_of_nine_in_ten_needs_some_hundred_and_forty_cases() -> None:
    # 1.96^2 0.9 0.1 / 0.05^2 = 138.3; the middle of the interval is a little nearer to one half.
    assert 138 <= (proportion(900, 1000).needed or 0) <= 141


@pytest.mark.parametrize(("count", "of"), [(-1, 3), (4, 3)])
def test_more_than_all_is_refused(count: int, of: int) -> None:
    with pytest.raises(ValueError, match=f"count: {count}, expected a whole number from 0 to {of}"):
        proportion(count, of)
