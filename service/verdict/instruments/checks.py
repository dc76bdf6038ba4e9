"""Checks by hand: open air, crushed ice, a reference instrument, a certificate; and a belief that learns from them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from service.verdict.instruments.belief import ErrorBelief
from service.verdict.instruments.classes import ERRORS
from service.verdict.instruments.mixture import Measurement, update

ICE_POINT_K = 273.15
"""Crushed ice in water, open to the air: 0.00 °C within 2 mK where well made (ASTM E563) [K]."""
ICE_BATH_K, OPEN_AIR_PA = 0.05, 200.0
"""Standard uncertainty of an ice bath made in a cup, and of a gauge's zero as read (common practice, no source)."""
BLUNDER = 0.02
"""So many checks are done wrongly: warm water, a hose under pressure, a slip of the pen (a judgement) [-]."""


@dataclass(frozen=True, slots=True)
class Check:
    """
    What a check by hand found of one error of one device.

    Parameters
    ----------
    quantity : str
        ``temperature_k`` or ``zero_pa``: how far the device is off [K], [Pa]; ``pressure_pa``: how far the gauge is
        off at a pressure, its zero and its gain together [Pa].
    error : float
        What was shown less what is true, in that unit.
    uncertainty : float
        Standard uncertainty of it, in that unit.
    pressure_pa : float
        Where ``pressure_pa`` was compared [Pa].
    """

    quantity: str
    error: float
    uncertainty: float
    pressure_pa: float = 0.0


def ice_bath(shown_k: float, uncertainty_k: float = ICE_BATH_K) -> Check:
    """What a thermometer showed in crushed ice and water [K]."""
    return Check(ERRORS[0], shown_k - ICE_POINT_K, uncertainty_k)


def open_air(shown_gauge_pa: float, uncertainty_pa: float = OPEN_AIR_PA) -> Check:
    """What a gauge showed that was open to the air, against that air [Pa]."""
    return Check(ERRORS[1], shown_gauge_pa, uncertainty_pa)


def compared(quantity: str, shown: float, reference: float, uncertainty: float) -> Check:
    """What a device showed beside a reference instrument: temperatures [K], or absolute pressures [Pa]."""
    return Check(quantity, shown - reference, uncertainty, reference if quantity == "pressure_pa" else 0.0)


def learned(belief: ErrorBelief, check: Check) -> ErrorBelief:
    """
    What is believed after a check.

    Parameters
    ----------
    belief : ErrorBelief
        As of the time of the check.
    check : Check
        Its result.

    Returns
    -------
    ErrorBelief
        A result far outside of what was believed counts in part as a blunder; a second one decides.

    Raises
    ------
    ValueError
        When the quantity is none of the known, or the uncertainty is not positive.
    """
    row = _ROWS.get(check.quantity)
    if row is None:
        raise ValueError(f"quantity: {check.quantity!r}, expected one of {', '.join(_ROWS)}")
    if not check.uncertainty > 0:
        raise ValueError(f"uncertainty: {check.uncertainty!r}, expected more than 0")
    combination = np.array(row, dtype=float)
    if check.quantity == "pressure_pa":
        combination[2] = check.pressure_pa
    widest = float(np.abs(combination) @ (10 * belief.grade.sizes)) + 10 * check.uncertainty
    seen = Measurement(
        weight=np.array([1 - BLUNDER]),
        value=np.array([check.error]),
        variance=np.array([check.uncertainty**2]),
        row=combination[None, :],
        unexplained=BLUNDER / (2 * widest),
    )
    return replace(belief, errors=update(belief.errors, seen)[0])


_ROWS: Mapping[str, tuple[float, float, float]] = {
    ERRORS[0]: (1.0, 0.0, 0.0),
    ERRORS[1]: (0.0, 1.0, 0.0),
    "pressure_pa": (0.0, 1.0, 0.0),
}
"""What each kind of check sees of temperature error, zero and gain (by definition) [-]."""
