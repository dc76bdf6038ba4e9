"""Curves straight from the equation of state, for the truth machine and its exact posterior.

Nothing here reads the project's tables. Flashing all mixtures takes minutes, so each designation's curves are
kept under `out/flashes/`; delete the folder to compute them anew.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from tqdm import tqdm

from service.refrigerants.catalogue import Catalogue, Refrigerant
from service.refrigerants.catalogue_builder import composition_of
from service.refrigerants.composition import Composition, from_mass, mixed_mass_fractions
from service.refrigerants.cylinder_state import after_vapour_loss, at_liquid_fraction
from service.refrigerants.deviations import mixed_composition
from service.refrigerants.equation_of_state import EquationOfState, NoConvergence, molar_mass_kg_mol
from service.verdict import quadrature_grids
from tests.benchmarks.output import output

LOW_K, HIGH_K = 276.15, 321.15
FILLS = np.array([0.003, 0.009, 0.02, 0.04, 0.07, 0.11, 0.17, 0.25, 0.36, 0.5, 0.68, 0.87])
LOSSES = np.array([0.02, 0.06, 0.1, 0.15, 0.2, 0.27, 0.35, 0.43, 0.51, 0.6, 0.7])
SHARES = np.array([0.004, 0.008, 0.016, 0.03, 0.055, 0.09, 0.14, 0.2, 0.27, 0.34, 0.42, 0.5])
START_FILL = 0.8
SEVERAL = 80
"""Mixtures of three that are flashed for each designation."""


def _nodes(count: int) -> np.ndarray:
    x = np.cos(np.pi * (np.arange(count) + 0.5) / count)
    low, high = 1 / HIGH_K, 1 / LOW_K
    return 1 / (low + (x + 1) / 2 * (high - low))


TEMPS_K = _nodes(5)


@dataclass(frozen=True, slots=True)
class Flashed:
    """ln P of one designation at `TEMPS_K`; NaN where nothing was found.

    bubble, dew [m], fill [fills, m] with its overall density fill_density [fills, m] in kg/m3, loss [losses, m],
    mixed [contaminants, shares, m], several [SEVERAL, m] (mixtures with two others as they are met), liquid and
    vapor density [m] in kg/m3; molar mass in kg/mol.
    """

    bubble: np.ndarray
    dew: np.ndarray
    fill: np.ndarray
    fill_density: np.ndarray
    loss: np.ndarray
    mixed: np.ndarray
    several: np.ndarray
    liquid: np.ndarray
    vapour: np.ndarray
    molar_mass: float


def temp_weights(temp_k: np.ndarray) -> np.ndarray:
    """Lagrange weights [m, k] in 1/T over `TEMPS_K`."""
    x, nodes = 1 / np.asarray(temp_k, dtype=float), 1 / TEMPS_K
    weights = np.ones((nodes.size, x.size))
    for i in range(nodes.size):
        for j in range(nodes.size):
            if i != j:
                weights[i] *= (x - nodes[j]) / (nodes[i] - nodes[j])
    return weights


HOME_INDEX_WEIGHTS = temp_weights(np.array([298.15]))[:, 0]


def flashed(
    catalogue: Catalogue, names: tuple[str, ...], contaminants: tuple[str, ...], met: np.ndarray
) -> dict[str, Flashed]:
    """Every designation's curves, from the folder or computed now; `met`: how often each contaminant is met."""
    folder = output("flashes")
    folder.mkdir(parents=True, exist_ok=True)
    found = {}
    for name in tqdm(names, desc="Flashing curves", unit="designation"):
        path = folder / f"{name}.npz"
        if path.exists():
            with np.load(path) as stored:
                same = tuple(stored["contaminants"]) == contaminants and stored["fills"].size == FILLS.size
                if same and "several" in stored and np.allclose(stored["met"], met):
                    found[name] = Flashed(**{key: stored[key] for key in Flashed.__annotations__})
                    continue
        curves = _flash(catalogue, name, contaminants, met)
        np.savez(
            path,
            contaminants=np.array(contaminants),
            fills=FILLS,
            met=met,
            **{k: getattr(curves, k) for k in Flashed.__annotations__},
        )
        found[name] = curves
    return found


def three_mixed(
    first: Refrigerant, others: tuple[Refrigerant, Refrigerant], w: float, u: float
) -> Composition:
    """A mixture by mass: so much of two others in all, of which `u` is the first."""
    second = mixed_mass_fractions(others[1].mass_fractions, others[0].mass_fractions, u)
    parts = mixed_mass_fractions(first.mass_fractions, second, w)
    return from_mass(parts, {part: molar_mass_kg_mol(part) for part in parts})


def drawn_of_three(
    rng: np.random.Generator, own: str, contaminants: tuple[str, ...], met: np.ndarray
) -> tuple[tuple[str, str], float, float]:
    """Two others, their share together, and how much of that is the first."""
    chance = np.where(np.array(contaminants) == own, 0.0, met)
    at = rng.choice(len(contaminants), size=2, replace=False, p=chance / chance.sum())
    share, split = rng.uniform(*quadrature_grids.SEVERAL_RANGE), rng.uniform(0.1, 0.9)
    return (contaminants[at[0]], contaminants[at[1]]), share, split


def _several(
    refrigerant: Refrigerant,
    catalogue: Catalogue,
    contaminants: tuple[str, ...],
    met: np.ndarray,
    own: np.ndarray,
) -> np.ndarray:
    rng, values = np.random.default_rng(11), np.full((SEVERAL, TEMPS_K.size), np.nan)
    if not np.isfinite(own).all():
        return values
    for row in values:
        names, share, split = drawn_of_three(rng, refrigerant.designation, contaminants, met)
        others = (catalogue[names[0]], catalogue[names[1]])
        row[:] = _bubbles(EquationOfState(three_mixed(refrigerant, others, share, split)))
    return values


def _flash(catalogue: Catalogue, name: str, contaminants: tuple[str, ...], met: np.ndarray) -> Flashed:
    refrigerant = catalogue[name]
    equation = EquationOfState(composition_of(refrigerant))
    bubble, dew, liquid, vapour = (np.full(TEMPS_K.size, np.nan) for _ in range(4))
    for j, temp in enumerate(TEMPS_K):
        try:
            lower, upper = equation.bubble(float(temp)), equation.dew(float(temp))
        except NoConvergence:
            continue
        mass = equation.molar_mass_kg_mol
        bubble[j], dew[j] = np.log(lower.pressure_pa), np.log(upper.pressure_pa)
        liquid[j], vapour[j] = lower.liquid_density_mol_m3 * mass, upper.vapour_density_mol_m3 * mass
    fill, fill_density = _fills(equation)
    return Flashed(
        bubble=bubble,
        dew=dew,
        fill=fill,
        fill_density=fill_density,
        loss=_losses(refrigerant),
        mixed=np.stack([_mixtures(refrigerant, catalogue[other], bubble) for other in contaminants]),
        several=_several(refrigerant, catalogue, contaminants, met, bubble),
        liquid=liquid,
        vapour=vapour,
        molar_mass=equation.molar_mass_kg_mol,
    )


def _fills(equation: EquationOfState) -> tuple[np.ndarray, np.ndarray]:
    """ln P and overall density in kg/m3, [fills, m] each, at constant liquid fractions."""
    pressure, density = np.full((2, FILLS.size, TEMPS_K.size), np.nan)
    for i, fill in enumerate(FILLS):
        for j, temp in enumerate(TEMPS_K):
            try:
                found = at_liquid_fraction(equation, float(temp), float(fill))
            except NoConvergence:
                continue
            pressure[i, j] = np.log(found.pressure_pa)
            density[i, j] = equation.molar_mass_kg_mol / found.molar_volume_m3
    return pressure, density


def _losses(refrigerant: Refrigerant) -> np.ndarray:
    values = np.full((LOSSES.size, TEMPS_K.size), np.nan)
    if not refrigerant.is_blend:
        return values
    equation = EquationOfState(composition_of(refrigerant))
    try:
        left = after_vapour_loss(equation, 298.15, START_FILL, list(LOSSES))
    except NoConvergence:
        return values
    for i, fractions in enumerate(left):
        equation.set_mole_fractions(fractions)
        values[i] = _bubbles(equation)
    return values


def _bubbles(equation: EquationOfState) -> np.ndarray:
    values = np.full(TEMPS_K.size, np.nan)
    for j, temp in enumerate(TEMPS_K):
        try:
            values[j] = np.log(equation.bubble(float(temp)).pressure_pa)
        except NoConvergence:
            continue
    return values


def _mixtures(first: Refrigerant, second: Refrigerant, own: np.ndarray) -> np.ndarray:
    values = np.full((SHARES.size, TEMPS_K.size), np.nan)
    if first.designation == second.designation or not np.isfinite(own).all():
        return values
    equation = EquationOfState(mixed_composition(first, second, 0.5))
    near = [None] * TEMPS_K.size
    for i in reversed(range(SHARES.size)):
        equation.set_mole_fractions(mixed_composition(first, second, float(SHARES[i])).mole_fractions)
        for j, temp in enumerate(TEMPS_K):
            try:
                solved = equation.bubble(float(temp), near[j])
            except NoConvergence:
                near[j] = None
                continue
            near[j] = solved
            values[i, j] = np.log(solved.pressure_pa)
    return values


def main() -> None:
    """Fill the folder for the North American table."""
    from service.refrigerants.deviations import CONTAMINANTS
    from service.store.artefacts import load_catalogue, load_curves
    from service.store.prevalence import load_prevalence
    from service.verdict.priors import field_weights

    designations = load_curves().designations
    seconds = [designations.index(name) for name in CONTAMINANTS]
    met = field_weights(load_prevalence(), designations)[seconds]
    weights = load_prevalence().weights
    names = tuple(sorted(weights, key=lambda name: -weights[name]))
    flashed(load_catalogue(), names, CONTAMINANTS, met)


if __name__ == "__main__":
    main()
