"""Contents that may stand in a cylinder in place of what its label says, with their bubble curves.

Mixtures of two and of three components that counterfeits and improvised refrigerants are made of, and retrofit blends
at any share in what they replace. Which of them reads like a refrigerant depends on the reading; a verdict looks it up.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import combinations, product

import numpy as np
from numpy.typing import NDArray

from service.refrigerants.catalogue import Refrigerant
from service.refrigerants.surfaces import temp_weights

Floats = NDArray[np.float64]

COUNTERFEITERS = (
    *("R-40", "R-22", "R-142b", "R-152a", "R-12", "R-134a", "R-290", "R-600a", "R-600", "R-1270"),
    *("R-E170", "R-32", "R-1234yf", "R-124", "R-143a", "R-125", "R-744"),
)
"""Cheap, banned or flammable components that industry warnings name, and those always at hand (from memory)."""
TERNARY = ("R-40", "R-22", "R-142b", "R-152a", "R-12", "R-290", "R-600a")
"""Those of them of which three together are tried (a choice, to keep the number of sets small)."""
REPLACED = ("R-22", "R-12", "R-134a", "R-404A")
"""Refrigerants that retrofit blends are made for."""
RETROFITS = (
    *("R-406A", "R-411A", "R-413A", "R-414B", "R-416A", "R-417A", "R-417B", "R-417C", "R-420A", "R-421A"),
    *("R-421B", "R-422A", "R-422B", "R-422C", "R-422D", "R-424A", "R-426A", "R-427A", "R-428A", "R-429A"),
    *("R-430A", "R-432A", "R-433A", "R-434A", "R-435A", "R-436A", "R-437A", "R-438A", "R-441A", "R-443A"),
    *("R-453A", "R-458A", "R-510A", "R-511A"),
)
"""Blends of ASHRAE 34 that are sold to replace those, as far as the catalogue has them (a choice, from memory)."""
PAIR_STEPS, TRIPLE_STEPS, RETROFIT_STEPS = 10, 10, 5
"""Into how many parts a whole is divided [-]."""


@dataclass(frozen=True, slots=True)
class LookAlikes:
    """All such contents, n of them.

    Parameters
    ----------
    parts : tuple of tuple of str
        Designations of each, in the order of `shares`.
    shares : ndarray[n, 3], float32
        Mass fraction of each part; zero where there are fewer [-].
    temp_nodes_k : ndarray[m]
        Temperatures [K].
    log_pressure : ndarray[n, m], float32
        ln of the bubble pressure [ln Pa].
    uncertainty : ndarray[n], float32
        One sigma of it [-].
    """

    parts: tuple[tuple[str, ...], ...]
    shares: NDArray[np.float32]
    temp_nodes_k: Floats
    log_pressure: NDArray[np.float32]
    uncertainty: NDArray[np.float32]

    def at(self, temp_k: Floats) -> Floats:
        """Ln P [n, k] at temperatures [K]."""
        return np.asarray(self.log_pressure @ temp_weights(self.temp_nodes_k, temp_k))


def _divided(steps: int, into: int) -> Iterator[tuple[float, ...]]:
    for cut in product(range(1, steps), repeat=into - 1):
        if sum(cut) < steps:
            yield (*(one / steps for one in cut), (steps - sum(cut)) / steps)


def recipes(catalogue: Mapping[str, Refrigerant]) -> list[dict[str, float]]:
    """Every content of the table, as mass fractions of designations [-]."""
    sets: list[tuple[tuple[str, ...], int]] = [(pair, PAIR_STEPS) for pair in combinations(COUNTERFEITERS, 2)]
    sets += [(triple, TRIPLE_STEPS) for triple in combinations(TERNARY, 3)]
    sets += [(pair, RETROFIT_STEPS) for pair in product(REPLACED, RETROFITS)]
    return [
        dict(zip(names, shares, strict=True))
        for names, steps in sets
        if all(name in catalogue for name in names)
        for shares in _divided(steps, len(names))
    ]


def components_of(recipe: Mapping[str, float], catalogue: Mapping[str, Refrigerant]) -> dict[str, float]:
    """Mass fractions of the pure components of a recipe [-]."""
    total: dict[str, float] = {}
    for name, share in recipe.items():
        for part, of_it in catalogue[name].mass_fractions.items():
            total[part] = total.get(part, 0.0) + share * of_it
    return total


@dataclass(frozen=True, slots=True)
class Solved:
    """One recipe's curve: ln P at the nodes, ndarray[m] [ln Pa], NaN where it failed, and one sigma [-]."""

    log_pressure: Floats
    uncertainty: float


def tabulate(
    catalogue: Mapping[str, Refrigerant],
    nodes_k: Floats,
    solve: Callable[[list[dict[str, float]]], Iterable[Solved]],
) -> LookAlikes:
    """
    Compute the table.

    Parameters
    ----------
    catalogue : Mapping[str, Refrigerant]
        All designations.
    nodes_k : ndarray[m]
        Where the curves are solved [K].
    solve : Callable
        Solves recipes of pure components by mass fraction [-], in their order.

    Returns
    -------
    LookAlikes
        Without those whose curve has a hole.
    """
    wanted = recipes(catalogue)
    solved = list(solve([components_of(recipe, catalogue) for recipe in wanted]))
    whole = [i for i, one in enumerate(solved) if np.isfinite(one.log_pressure).all()]
    shares = np.zeros((len(whole), 3), dtype=np.float32)
    for row, i in enumerate(whole):
        shares[row, : len(wanted[i])] = list(wanted[i].values())
    return LookAlikes(
        tuple(tuple(wanted[i]) for i in whole),
        shares,
        nodes_k,
        np.array([solved[i].log_pressure for i in whole], dtype=np.float32),
        np.array([solved[i].uncertainty for i in whole], dtype=np.float32),
    )
