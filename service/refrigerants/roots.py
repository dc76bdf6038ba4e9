"""Tests that an answer of the equation of state must pass before it is believed.

A saturation flash that claims success can be wrong by a factor of fifty: it returns trivial roots, roots
of another composition, unstable roots, and roots inside the loops that the equations have of their own
between vapor and liquid. No test alone catches all of them.
"""

from collections.abc import Sequence
from typing import Protocol

from service.refrigerants.composition import Composition
from service.refrigerants.two_phase import TwoPhase

MIN_DENSITY_RATIO = 1.02
"""Liquid over vapor density below which a root is taken for trivial or critical (a choice) [-]."""

EQUILIBRIUM_TOLERANCE = 1e-5
"""Relative difference of pressures or fugacities between the phases above which a root is false (a choice) [-]."""

RAOULT_FACTOR = 30.0
"""How far a bubble pressure may lie from Raoult's law with Wilson's vapor pressures, as a ratio either way (a choice)
[-]."""

_BULK_TOLERANCE = 1e-6
"""How closely the two phases must add up to the bulk, in mole fractions (a choice) [-]."""
_DENSE = 2.5
"""Density of a liquid well below critical, over the reducing density, up to which a loop is looked for (a choice)
[-]."""
_THINNER = (0.3, 0.6, 0.9)
"""Densities tried below the vapor's, over it (a choice) [-]."""
_DENSER = (0.1, 0.3, 0.5, 0.7, 0.9)
"""Densities tried above the liquid's, as shares of the way to `_DENSE` (a choice) [-]."""


class PhaseModel(Protocol):
    """One phase of given mole fractions, density [mol/m^3] and temperature [K]; nothing is solved."""

    def pressure_pa(self, fractions: Sequence[float], density_mol_m3: float, temp_k: float) -> float:
        """Pressure, [Pa]."""

    def stiffness(self, fractions: Sequence[float], density_mol_m3: float, temp_k: float) -> float:
        """Derivative of pressure by density, [J/mol]; negative where the phase is unstable."""

    def fugacities_pa(
        self, fractions: Sequence[float], density_mol_m3: float, temp_k: float
    ) -> Sequence[float]:
        """Fugacity of each component, [Pa]."""

    def reducing_density_mol_m3(self, fractions: Sequence[float]) -> float:
        """Density near the critical one, [mol/m^3]."""

    def raoult_pressure_pa(self, fractions: Sequence[float], temp_k: float) -> float:
        """Bubble pressure of an ideal liquid, [Pa]."""


def is_trustworthy(answer: TwoPhase, bulk: Composition, model: PhaseModel) -> bool:
    """Whether a two-phase answer passes every test.

    Parameters
    ----------
    answer : TwoPhase
        What the flash gave; its densities are positive.
    bulk : Composition
        What was flashed.
    model : PhaseModel
        Evaluates single phases.

    Returns
    -------
    bool
        False as soon as a test fails.
    """
    return (
        answer.liquid_density_mol_m3 >= MIN_DENSITY_RATIO * answer.vapour_density_mol_m3
        and _adds_up(answer, bulk)
        and _is_plausible(answer, model)
        and _is_stable(answer, model)
        and _is_balanced(answer, model)
        and _is_outermost(answer, model)
    )


def _adds_up(answer: TwoPhase, bulk: Composition) -> bool:
    q = answer.quality
    phases = zip(bulk.mole_fractions, answer.liquid, answer.vapour, strict=True)
    return all(abs((1 - q) * x + q * y - z) < _BULK_TOLERANCE for z, x, y in phases)


def _is_plausible(answer: TwoPhase, model: PhaseModel) -> bool:
    raoult = model.raoult_pressure_pa(answer.liquid, answer.temp_k)
    return raoult / RAOULT_FACTOR < answer.pressure_pa < raoult * RAOULT_FACTOR


def _is_stable(answer: TwoPhase, model: PhaseModel) -> bool:
    return (
        model.stiffness(answer.liquid, answer.liquid_density_mol_m3, answer.temp_k) > 0
        and model.stiffness(answer.vapour, answer.vapour_density_mol_m3, answer.temp_k) > 0
    )


def _is_balanced(answer: TwoPhase, model: PhaseModel) -> bool:
    """Whether both phases have the pressure claimed and equal fugacities."""
    temp = answer.temp_k
    phases = ((answer.liquid, answer.liquid_density_mol_m3), (answer.vapour, answer.vapour_density_mol_m3))
    if any(not _close(model.pressure_pa(x, density, temp), answer.pressure_pa) for x, density in phases):
        return False
    liquid, vapour = (model.fugacities_pa(x, density, temp) for x, density in phases)
    return all(_close(a, b) for a, b in zip(liquid, vapour, strict=True))


def _close(first: float, second: float) -> bool:
    return abs(first - second) < EQUILIBRIUM_TOLERANCE * second


def _is_outermost(answer: TwoPhase, model: PhaseModel) -> bool:
    """Whether no thinner vapor and no denser liquid has the same pressure.

    A liquid well below critical has at least ``_DENSE`` times the reducing density; up to there it is looked.
    """
    temp, pressure = answer.temp_k, answer.pressure_pa
    vapour, liquid = answer.vapour_density_mol_m3, answer.liquid_density_mol_m3
    if any(model.pressure_pa(answer.vapour, share * vapour, temp) > pressure for share in _THINNER):
        return False
    room = _DENSE * model.reducing_density_mol_m3(answer.liquid) - liquid
    denser = [liquid + share * room for share in _DENSER] if room > 0 else []
    return all(model.pressure_pa(answer.liquid, density, temp) > pressure for density in denser)
