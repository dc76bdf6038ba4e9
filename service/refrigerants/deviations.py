"""Compute one designation's rows of the surfaces from the equation of state."""

from collections.abc import Mapping
from dataclasses import dataclass
from math import hypot

import numpy as np
from numpy.typing import NDArray

from service.refrigerants.catalogue import Refrigerant
from service.refrigerants.catalogue_builder import composition_of, remedies_of
from service.refrigerants.composition import Composition, from_mass, mixed_mass_fractions
from service.refrigerants.curves import Floats
from service.refrigerants.cylinder_state import after_vapour_loss, at_liquid_fraction
from service.refrigerants.equation_of_state import EquationOfState, molar_mass_kg_mol
from service.refrigerants.look_alikes import Solved
from service.refrigerants.surfaces import TEMP_LOW_K, fill_holes, reciprocal_nodes_k
from service.refrigerants.two_phase import NoConvergence, TwoPhase
from service.refrigerants.uncertainty import Uncertainties

TEMP_NODES_K = reciprocal_nodes_k(6)
"""Temperatures of the surfaces, between which they are a polynomial in 1/T (a choice), ndarray[6] [K]."""
FILL_NODES = np.array([0.02, 0.05, 0.1, 0.15, 0.2, 0.3, 0.4, 0.5, 0.65, 0.8, 0.95])
"""Liquid volume fractions at which the surfaces are computed (a choice), ndarray[nf] [-]."""
LOSS_NODES = np.array([0.02, 0.05, 0.1, 0.15, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7])
"""Mass fractions of the charge lost as vapor at which they are computed (a choice), ndarray[nl] [-]."""
SHARE_NODES = np.array([0.005, 0.015, 0.04, 0.1, 0.2, 0.35, 0.5])
"""Mass fractions of a contaminant at which they are computed, dense at the small end (a choice), ndarray[nw] [-]."""
LOSS_TEMPS_K = (298.15, 273.15, 253.15)
"""Temperature at which vapor is let out, the first at which there is liquid (a choice), [K]."""
LOSS_START_LIQUID_FRACTION = 0.8
"""Liquid volume fraction of a cylinder before any vapor is let out: full by the 80 % rule (a choice) [-]."""
_STRAY_LOG = 0.02
"""A value of ln P that lies further from the smooth curve through the others is a false root and left out (a choice)
[-]."""

CONTAMINANTS = (
    *("R-22", "R-410A", "R-134a", "R-404A", "R-407C", "R-32", "R-454B", "R-12", "R-502", "R-507A"),
    *("R-1234yf", "R-408A", "R-409A", "R-401A", "R-402A", "R-407A", "R-407F", "R-438A", "R-422D"),
    *("R-417A", "R-448A", "R-449A", "R-452A", "R-513A", "R-450A", "R-454C", "R-427A", "R-421A"),
    *("R-290", "R-600a", "R-123", "R-124", "R-11", "R-500", "R-114", "R-152a", "R-1234ze(E)"),
    *("R-452B", "R-434A", "R-437A", "R-454A", "R-515B", "R-1233zd(E)"),
    *("R-40", "R-142b", "R-422B", "R-453A", "R-414B", "R-416A", "R-436A"),
)
"""Designations most met in the field, with which another may be mixed; the last of them what industry warnings name in
counterfeits (from memory) and blends that are filled on top of what they replace."""


@dataclass(frozen=True, slots=True)
class MixtureRow:
    """One designation with every contaminant: ndarray[s, nw, m] and ndarray[s] of ``Surfaces``, ln P [-]."""

    mixture: Floats
    uncertainty: Floats
    failed: int


def log_bubble_pressures(equation: EquationOfState) -> Floats:
    """Solve ln of the bubble pressure [Pa] at the temperature nodes, ndarray[m]; NaN where it fails."""
    values = np.full(TEMP_NODES_K.size, np.nan)
    for j, temp in enumerate(TEMP_NODES_K):
        try:
            values[j] = np.log(equation.bubble(float(temp)).pressure_pa)
        except NoConvergence:
            continue
    return values


def fill_row(refrigerant: Refrigerant) -> Floats:
    """Compute ``Surfaces.fill`` of one designation, ndarray[nf, m] of differences of ln P [-]."""
    values = np.zeros((FILL_NODES.size, TEMP_NODES_K.size))
    if not refrigerant.is_blend:
        return values
    equation = EquationOfState(composition_of(refrigerant))
    nominal = log_bubble_pressures(equation)
    for (i, fill), (j, temp) in _grid(FILL_NODES, TEMP_NODES_K):
        try:
            values[i, j] = np.log(at_liquid_fraction(equation, temp, fill).pressure_pa) - nominal[j]
        except NoConvergence:
            values[i, j] = np.nan
    return fill_holes(TEMP_NODES_K, without_strays(values))


def _grid(*axes: Floats) -> list[tuple[tuple[int, float], ...]]:
    first, second = axes
    return [((i, float(a)), (j, float(b))) for i, a in enumerate(first) for j, b in enumerate(second)]


def loss_row(refrigerant: Refrigerant) -> Floats:
    """Compute ``Surfaces.loss`` of one designation, ndarray[nl, m] of differences of ln P [-]."""
    values = np.full((LOSS_NODES.size, TEMP_NODES_K.size), np.nan)
    if not refrigerant.is_blend:
        return values
    nominal = composition_of(refrigerant)
    equation = EquationOfState(nominal)
    reference = log_bubble_pressures(equation)
    for i, mole_fractions in enumerate(_left_after_loss(equation)):
        equation.set_mole_fractions(mole_fractions)
        values[i] = log_bubble_pressures(equation) - reference
    return fill_holes(TEMP_NODES_K, without_strays(values))


def _left_after_loss(equation: EquationOfState) -> list[tuple[float, ...]]:
    nominal = equation.composition.mole_fractions
    for temp_k in LOSS_TEMPS_K:
        try:
            return after_vapour_loss(equation, temp_k, LOSS_START_LIQUID_FRACTION, list(LOSS_NODES))
        except NoConvergence:
            equation.set_mole_fractions(nominal)
    return []


def mixture_row(
    refrigerant: Refrigerant, contaminants: Mapping[str, Refrigerant], stated: Uncertainties
) -> MixtureRow:
    """Compute ``Surfaces.mixture`` and its uncertainty for one designation.

    Parameters
    ----------
    refrigerant : Refrigerant
        The one that was to be alone.
    contaminants : Mapping[str, Refrigerant]
        The s others, in order.
    stated : Uncertainties
        How far the modelled pairs can be trusted.

    Returns
    -------
    MixtureRow
        Deviations, uncertainties and the number of flashes that failed.
    """
    mixture = np.full((len(contaminants), SHARE_NODES.size, TEMP_NODES_K.size), np.nan)
    own = log_bubble_pressures(EquationOfState(composition_of(refrigerant)))
    for k, other in enumerate(contaminants.values()):
        if other.designation == refrigerant.designation:
            continue
        theirs = log_bubble_pressures(EquationOfState(composition_of(other)))
        line = np.outer(1 - SHARE_NODES, own) + np.outer(SHARE_NODES, theirs)
        mixture[k] = without_strays(_mixed(refrigerant, other, np.isfinite(own)) - line)
    others = len(contaminants) - (refrigerant.designation in contaminants)
    failed = int(np.isfinite(own).sum() * SHARE_NODES.size * others - np.isfinite(mixture).sum())
    uncertainty = mixture_uncertainty_row(refrigerant, contaminants, stated)
    return MixtureRow(fill_holes(TEMP_NODES_K, mixture), uncertainty, failed)


def mixture_uncertainty_row(
    refrigerant: Refrigerant, contaminants: Mapping[str, Refrigerant], stated: Uncertainties
) -> Floats:
    """Uncertainty of one designation's half-and-half mixtures, ndarray[s]; NaN with itself. No flash is needed."""
    uncertainty = np.full(len(contaminants), np.nan)
    for k, other in enumerate(contaminants.values()):
        if other.designation != refrigerant.designation:
            half = mixed_composition(refrigerant, other, 0.5)
            uncertainty[k] = stated.mixing(half, remedies_of(half))[0]
    return uncertainty


def look_alike(parts: Mapping[str, float], stated: Uncertainties) -> Solved:
    """Solve one content's bubble curve from its pure parts by mass [-], and state one sigma."""
    composition = from_mass(parts, {name: molar_mass_kg_mol(name) for name in parts})
    curve = fill_holes(
        TEMP_NODES_K, without_strays(log_bubble_pressures(EquationOfState(composition))[None])
    )[0]
    shares = dict(zip(composition.components, composition.mole_fractions, strict=True))
    ends = [share * stated.fluid(name)[0] for name, share in shares.items()]
    return Solved(curve, hypot(*ends, stated.mixing(composition, remedies_of(composition))[0]))


def mixed_composition(first: Refrigerant, second: Refrigerant, share_of_second: float) -> Composition:
    """Mole fractions of a mixture of two designations by mass, [-]."""
    parts = mixed_mass_fractions(first.mass_fractions, second.mass_fractions, share_of_second)
    return from_mass(parts, {name: molar_mass_kg_mol(name) for name in parts})


def _mixed(first: Refrigerant, second: Refrigerant, reachable: NDArray[np.bool_]) -> Floats:
    """Solve ln of the mixture's bubble pressure, ndarray[nw, m]; each share guesses the next."""
    values = np.full((SHARE_NODES.size, TEMP_NODES_K.size), np.nan)
    equation = EquationOfState(mixed_composition(first, second, 0.5))
    near: list[TwoPhase | None] = [None] * TEMP_NODES_K.size
    for i in reversed(range(SHARE_NODES.size)):
        composition = mixed_composition(first, second, float(SHARE_NODES[i]))
        equation.set_mole_fractions(composition.mole_fractions)
        for j in np.flatnonzero(reachable).tolist():
            try:
                solved = equation.bubble(float(TEMP_NODES_K[j]), near[j])
            except NoConvergence:
                near[j] = None
                continue
            near[j] = solved
            values[i, j] = np.log(solved.pressure_pa)
    return values


def without_strays(values: Floats) -> Floats:
    """Drop values of ln P [ln Pa] or of its differences [-] that stand out of a smooth course in 1/T, ndarray[..., m].

    With five or six values a quadratic through the others predicts each; a false root misses it.
    """
    rows = values.reshape(-1, TEMP_NODES_K.size).copy()
    x = TEMP_LOW_K / TEMP_NODES_K
    for row in rows:
        while (known := np.flatnonzero(np.isfinite(row))).size > 4:
            misses = []
            for leave in known:
                others = known[known != leave]
                series = np.polynomial.polynomial.polyfit(x[others], row[others], 3)
                misses.append(abs(np.polynomial.polynomial.polyval(x[leave], series) - row[leave]))
            fit = np.polynomial.polynomial.polyfit(x[known], row[known], 2)
            off = np.abs(np.polynomial.polynomial.polyval(x[known], fit) - row[known])
            if off.max() < _STRAY_LOG:
                break
            row[known[int(np.argmax(misses))]] = np.nan
    return rows.reshape(values.shape)
