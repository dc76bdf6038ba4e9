"""What a laboratory's composition establishes: which designation it was, and what was with it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from service.refrigerants.catalogue import Refrigerant

OTHERS_ALLOWED: Final = 0.005
"""Mass fraction of other refrigerants that the reclaim standard allows (40 CFR 82 subpart F App. A1) [-]."""
AIR_ALLOWED: Final = 0.015
"""Non-condensables in the vapor that it allows, by volume (the same, read) [-]."""
BLEND_TOLERANCE: Final = 0.02
"""A component of a blend further than this from its nominal share has shifted: the widest tolerance that is usual
among published blends (from memory, ANSI/ASHRAE 34) [-]."""
LEAST_NAMED: Final = 0.5
"""A composition of which no designation explains so much is none of the catalogue (a judgement) [-]."""


@dataclass(frozen=True, slots=True)
class Established:
    """
    What turned out.

    Parameters
    ----------
    designation : str or None
        None where it is no designation of the catalogue.
    state : str or None
        none, air, shifted or mixed; None where the result says nothing of it.
    """

    designation: str | None
    state: str | None


def from_composition(
    catalogue: Mapping[str, Refrigerant],
    parts: Mapping[str, float],
    uncertainty: float,
    *,
    named: str | None = None,
    air: float | None = None,
) -> Established:
    """
    Read a composition by mass.

    Parameters
    ----------
    catalogue : Mapping
        Refrigerants by designation.
    parts : Mapping[str, float]
        Mass fractions by designation of the catalogue, blends or pure ones [-]; air left out.
    uncertainty : float
        Standard uncertainty of each [-].
    named : str or None
        What the laboratory calls it, where it does.
    air : float or None
        Share of the vapor's volume that is air or another gas that does not condense [-].

    Returns
    -------
    Established
        What was found besides another refrigerant counts only where there is none.
    """
    shares = _components(catalogue, parts)
    designation = named or _likest(catalogue, shares)
    if designation is None:
        return Established(None, None)
    nominal = catalogue[designation].mass_fractions
    others = sum(share for name, share in shares.items() if name not in nominal)
    if others > OTHERS_ALLOWED:
        return Established(designation, "mixed")
    allowed = BLEND_TOLERANCE + 2 * uncertainty
    total = sum(shares.values())
    if any(abs(shares.get(name, 0.0) / total - share) > allowed for name, share in nominal.items()):
        return Established(designation, "shifted")
    return Established(designation, "air" if air is not None and air > AIR_ALLOWED else "none")


def _components(catalogue: Mapping[str, Refrigerant], parts: Mapping[str, float]) -> dict[str, float]:
    """Mass fractions by pure component [-]."""
    shares: dict[str, float] = {}
    for designation, part in parts.items():
        for name, share in catalogue[designation].mass_fractions.items():
            shares[name] = shares.get(name, 0.0) + part * share
    return shares


def _likest(catalogue: Mapping[str, Refrigerant], shares: Mapping[str, float]) -> str | None:
    """The designation of which most could be in it, the one that leaves least over; the first of equals."""
    best, most = None, 0.0
    for designation, refrigerant in catalogue.items():
        amount = min(shares.get(name, 0.0) / share for name, share in refrigerant.mass_fractions.items())
        if amount > most + 1e-9:
            best, most = designation, amount
    return best if most >= LEAST_NAMED else None
