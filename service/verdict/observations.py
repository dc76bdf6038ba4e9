"""What else was seen of the contents than pressure and temperature, each with how far it can be trusted."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from service.verdict.errors import InvalidEvidence

ANALYSER_TRUST, LABORATORY_TRUST = 0.95, 0.98
"""How often an instrument's composition, or a laboratory's, is that of this cylinder (judgements) [-]."""
ANALYSER_UNCERTAINTY, LABORATORY_UNCERTAINTY = 0.02, 0.003
"""Of a mass fraction where none is stated (common practice, no source) [-]."""
LEVEL_TRUST = 0.98
"""How often a line on the wall is that of the liquid (a judgement) [-]."""
LEAST_NAMED, MOST_NAMED = 0.5, 1.02
"""Between these the named mass fractions add up; results are rounded, and some parts are not named (judgements)
[-]."""


@dataclass(frozen=True, slots=True)
class Composition:
    """
    What an instrument or a laboratory found, air left out.

    Parameters
    ----------
    mass_fractions : Mapping[str, float]
        By designation [-]; what is missing to one was not named.
    uncertainty : float
        Standard uncertainty of each mass fraction [-].
    trust : float
        How often such a result belongs to this cylinder and is right, 0 to 1 [-].
    """

    mass_fractions: Mapping[str, float]
    uncertainty: float
    trust: float


@dataclass(frozen=True, slots=True)
class LiquidLevel:
    """
    How much of the cylinder is liquid, as a line on its wall tells.

    Parameters
    ----------
    fraction : float
        Of the volume, 0 to 1 [-].
    uncertainty : float
        Standard uncertainty of it [-].
    """

    fraction: float
    uncertainty: float


@dataclass(frozen=True, slots=True)
class Observations:
    """
    Everything else that was seen; all may be unknown.

    Parameters
    ----------
    combustible_gas : bool or None
        Whether a combustible-gas detector at the valve sounded.
    compositions : tuple of Composition
        Of analysers and laboratories, independent of each other.
    liquid : LiquidLevel or None
        With weight and capacity it tells the liquid's density, which hydrocarbons have half of.
    """

    combustible_gas: bool | None = None
    compositions: tuple[Composition, ...] = ()
    liquid: LiquidLevel | None = None


def check(seen: Observations) -> None:
    """
    Refuse what cannot have been observed.

    Raises
    ------
    InvalidEvidence
        Naming field, value and what was expected.
    """
    if seen.liquid is not None:
        _between("liquid.fraction", seen.liquid.fraction, 0.0, 1.0)
        _between("liquid.uncertainty", seen.liquid.uncertainty, 0.001, 0.5)
    for index, found in enumerate(seen.compositions):
        where = f"compositions.{index}."
        for name, share in found.mass_fractions.items():
            _between(f"{where}mass_fractions.{name}", share, 0.0, 1.0)
        _between(where + "uncertainty", found.uncertainty, 0.0001, 0.5)
        _between(where + "trust", found.trust, 0.0, 0.999)
        named = sum(found.mass_fractions.values())
        if not LEAST_NAMED <= named <= MOST_NAMED:
            expected = f"mass fractions that add up to {LEAST_NAMED:g} to {MOST_NAMED:g}"
            raise InvalidEvidence(where + "mass_fractions", named, expected)


def _between(field: str, value: float, low: float, high: float) -> None:
    if not low <= value <= high:
        raise InvalidEvidence(field, value, f"a number from {low:g} to {high:g}")
