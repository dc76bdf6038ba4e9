"""How far a share of few cases can be trusted.

Wilson's score interval: E. B. Wilson, J. Am. Stat. Assoc. 22 (1927) 209. Recommended for few cases, with Jeffreys',
by Brown, Cai and DasGupta, Statist. Sci. 16 (2001) 101 (from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

Z_95: Final = 1.959964
"""Standard normal quantile of 0.975 (computed) [-]."""
CLOSE: Final = 0.05
"""A share is taken as known once it is known so closely, either way (a judgement) [-]."""


@dataclass(frozen=True, slots=True)
class Proportion:
    """
    So many of so many, and the 95 % interval of the share behind it.

    Parameters
    ----------
    count, of : int
        Cases that did, and all.
    share, low, high : float or None
        Of 1 [-]; None without any case.
    """

    count: int
    of: int
    share: float | None
    low: float | None
    high: float | None

    @property
    def needed(self) -> int | None:
        """How many cases it would take to know such a share within `CLOSE`, all told; None without any case.

        From the middle of the interval, which is never quite 0 or 1.
        """
        if self.low is None or self.high is None:
            return None
        middle = (self.low + self.high) / 2
        return math.ceil(Z_95**2 * middle * (1 - middle) / CLOSE**2)


def proportion(count: int, of: int) -> Proportion:
    """
    A share with Wilson's interval.

    Parameters
    ----------
    count, of : int
        0 <= count <= of.

    Returns
    -------
    Proportion
        Shares None where there is no case.

    Raises
    ------
    ValueError
        Naming the count, its value and what was expected.
    """
    if not 0 <= count <= of:
        raise ValueError(f"count: {count!r}, expected a whole number from 0 to {of}")
    if of == 0:
        return Proportion(0, 0, None, None, None)
    share, square = count / of, Z_95**2
    middle = (share + square / (2 * of)) / (1 + square / of)
    reach = Z_95 / (1 + square / of) * math.sqrt(share * (1 - share) / of + square / (4 * of**2))
    low = 0.0 if count == 0 else max(0.0, middle - reach)
    high = 1.0 if count == of else min(1.0, middle + reach)
    return Proportion(count, of, share, low, high)
