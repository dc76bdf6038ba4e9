"""What is known of a thermometer and a gauge before anybody checked them, and how they go off with time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

ERRORS = ("temperature_k", "zero_pa", "gain")
"""The errors of a set, in this order everywhere: thermometer offset [K], gauge zero [Pa], gauge gain [-]."""
TAIL_SHARE, TAIL_FACTOR = 0.1, 4.0
"""So many instruments are off by so many times their class: fallen, wet, bent (a judgement, no source) [-]."""
JUMP_PER_MONTH, JUMP_PER_PAIR, JUMP_FACTOR = 0.005, 0.002, 4.0
"""How often an instrument goes off by itself, and is dropped in use, and by how many times its class it is off then
(judgements, no source) [1/month], [1/pair], [-]."""
DRIFT_PER_MONTH = 0.08
"""Drift, of the class: over a year 0.28 of it (a judgement, no source) [1/sqrt(month)]."""
MONTH_S = 2_629_800.0
"""A twelfth of a year of 365.25 days (by definition) [s]."""
_LEAST = np.array([1e-3, 1.0, 1e-6])
"""Least standard uncertainties of a class, which keep a perfect instrument invertible (a choice), ndarray[3] [K],
[Pa], [-]."""


@dataclass(frozen=True, slots=True)
class InstrumentClass:
    """
    Standard uncertainties of a thermometer and a gauge that nobody has checked.

    Parameters
    ----------
    temp_k : float
        Of the thermometer's offset [K].
    zero_pa : float
        Of the gauge's zero [Pa].
    gain : float
        Of the gauge's gain [-]; zero where the class states none.
    """

    temp_k: float
    zero_pa: float
    gain: float = 0.0

    def __post_init__(self) -> None:
        """Refuse what is no uncertainty.

        Raises
        ------
        ValueError
            Naming field, value and what was expected.
        """
        for name, value, most in (
            ("temp_k", self.temp_k, 100.0),
            ("zero_pa", self.zero_pa, 1e7),
            ("gain", self.gain, 1.0),
        ):
            if not 0.0 <= value <= most:
                raise ValueError(f"{name}: {value!r}, expected a standard uncertainty from 0 to {most:g}")

    @property
    def sizes(self) -> Floats:
        """Standard uncertainties [3] in the order of `ERRORS`, [K], [Pa], [-]; never quite zero."""
        return np.asarray(np.maximum([self.temp_k, self.zero_pa, self.gain], _LEAST), dtype=np.float64)


DEVICES = (np.array([True, False, False]), np.array([False, True, True]))
"""Which errors are the thermometer's and which the gauge's: each device goes off on its own."""
