"""State of a closed cylinder, with vapor quality as the unknown, and what vapor loss leaves in it.

Used to build tables and to know the truth in tests. For a fixed temperature and bulk composition
the volume per mole rises with quality, so one bracketed root gives the state.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from service.refrigerants.equation_of_state import EquationOfState, molar_mass_kg_mol
from service.refrigerants.two_phase import NoConvergence, TwoPhase

_QUALITY_TOLERANCE = 1e-9
"""The search for the vapor fraction ends this close (a choice) [-]."""
_LOSS_STEP = 0.01
"""Greatest part of the charge that is let out in one step (a choice) [-]."""


@dataclass(frozen=True, slots=True)
class ClosedCylinder:
    """What is in a cylinder: ``two-phase``, ``liquid-full`` or ``vapour-only``, and its pressure.

    ``equilibrium`` is None where there is one phase only.
    """

    contents: str
    pressure_pa: float
    equilibrium: TwoPhase | None


def closed_cylinder(equation: EquationOfState, temp_k: float, density_kg_m3: float) -> ClosedCylinder:
    """Find the state of a charge in a closed volume.

    Parameters
    ----------
    equation : EquationOfState
        Of the whole charge.
    temp_k : float
        Temperature, [K].
    density_kg_m3 : float
        Mass of the charge over the cylinder's volume, [kg/m^3].

    Returns
    -------
    ClosedCylinder
        A liquid-full cylinder's pressure is hydrostatic and rises by bars per kelvin.
    """
    molar_volume = equation.molar_mass_kg_mol / density_kg_m3
    bubble, dew = equation.bubble(temp_k), equation.dew(temp_k)
    if molar_volume <= bubble.molar_volume_m3:
        return ClosedCylinder(
            "liquid-full", equation.single_phase_pressure_pa(temp_k, 1 / molar_volume), None
        )
    if molar_volume >= dew.molar_volume_m3:
        return ClosedCylinder(
            "vapour-only", equation.single_phase_pressure_pa(temp_k, 1 / molar_volume), None
        )

    def quality_for(state: TwoPhase) -> float:
        liquid, vapour = 1 / state.liquid_density_mol_m3, 1 / state.vapour_density_mol_m3
        return (molar_volume - liquid) / (vapour - liquid)

    state = _solve_quality(equation, bubble, dew, quality_for)
    return ClosedCylinder("two-phase", state.pressure_pa, state)


def at_liquid_fraction(equation: EquationOfState, temp_k: float, liquid_fraction: float) -> TwoPhase:
    """Find the state in which liquid takes a given share of the volume.

    Parameters
    ----------
    equation : EquationOfState
        Of the whole charge.
    temp_k : float
        Temperature, [K].
    liquid_fraction : float
        Share of the volume that is liquid, [-].

    Returns
    -------
    TwoPhase
        Both phases in equilibrium.
    """

    def quality_for(state: TwoPhase) -> float:
        vapour = (1 - liquid_fraction) * state.vapour_density_mol_m3
        return vapour / (vapour + liquid_fraction * state.liquid_density_mol_m3)

    return _solve_quality(equation, equation.bubble(temp_k), equation.dew(temp_k), quality_for)


def _solve_quality(
    equation: EquationOfState, bubble: TwoPhase, dew: TwoPhase, quality_for: Callable[[TwoPhase], float]
) -> TwoPhase:
    """Find the quality that the densities at that quality ask for (Illinois; nearly linear)."""
    low, low_off = 0.0, -quality_for(bubble)
    high, high_off = 1.0, 1.0 - quality_for(dew)
    side = 0
    for _ in range(60):
        quality = (low * high_off - high * low_off) / (high_off - low_off)
        state = equation.at_quality(bubble.temp_k, quality)
        off = quality - quality_for(state)
        if abs(off) < _QUALITY_TOLERANCE or high - low < _QUALITY_TOLERANCE:
            return state
        if off < 0:
            low, low_off = quality, off
            high_off *= 0.5 if side < 0 else 1.0
            side = -1
        else:
            high, high_off = quality, off
            low_off *= 0.5 if side > 0 else 1.0
            side = 1
    raise NoConvergence(f"{equation.composition}: no quality at {bubble.temp_k} K")


def after_vapour_loss(
    equation: EquationOfState, temp_k: float, liquid_fraction: float, lost: Sequence[float]
) -> list[tuple[float, ...]]:
    """Let equilibrium vapor out of a closed cylinder, slowly (Rayleigh).

    Parameters
    ----------
    equation : EquationOfState
        Of the full charge; is left holding the last composition.
    temp_k : float
        Temperature throughout, [K].
    liquid_fraction : float
        Share of the volume that is liquid at the start, [-].
    lost : Sequence[float]
        Shares of the mass lost at which to report, rising, [-].

    Returns
    -------
    list[tuple[float, ...]]
        Mole fractions of all that is left, for each share lost.
    """
    start = at_liquid_fraction(equation, temp_k, liquid_fraction)
    volume_m3 = start.molar_volume_m3
    masses = [molar_mass_kg_mol(name) for name in equation.composition.components]
    amounts = list(equation.composition.mole_fractions)
    total_kg = sum(n * m for n, m in zip(amounts, masses, strict=True))
    left, reports = total_kg, []
    for share in lost:
        while left > total_kg * (1 - share) + 1e-12:
            step = min(_LOSS_STEP * total_kg, left - total_kg * (1 - share))
            halfway = _without(amounts, _vapour(equation, amounts, volume_m3, temp_k), step / 2, masses)
            amounts = _without(amounts, _vapour(equation, halfway, volume_m3, temp_k), step, masses)
            left -= step
        reports.append(tuple(n / sum(amounts) for n in amounts))
    return reports


def _vapour(
    equation: EquationOfState, amounts: Sequence[float], volume_m3: float, temp_k: float
) -> tuple[float, ...]:
    total = sum(amounts)
    equation.set_mole_fractions(tuple(n / total for n in amounts))
    try:
        cylinder = closed_cylinder(equation, temp_k, equation.molar_mass_kg_mol * total / volume_m3)
    except NoConvergence:
        # With liquid left, the first bubble's vapor is close to the vapor above it.
        return equation.bubble(temp_k).vapour
    return cylinder.equilibrium.vapour if cylinder.equilibrium else equation.composition.mole_fractions


def _without(
    amounts: Sequence[float], vapour: Sequence[float], mass_kg: float, masses: Sequence[float]
) -> list[float]:
    moles = mass_kg / sum(y * m for y, m in zip(vapour, masses, strict=True))
    return [n - moles * y for n, y in zip(amounts, vapour, strict=True)]
