"""What one more measurement is expected to save: the expected value of sample information.

The choice of least expected cost is made after every outcome that the measurement may have, and its cost, averaged
over the outcomes, is compared with that of the choice made now (Raiffa and Schlaifer, Applied Statistical Decision
Theory, 1961; from memory). What a measurement takes of somebody's time is not in it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.codes import DispositionCode

Floats = NDArray[np.float64]

FINAL = tuple(code for code in DispositionCode if code is not DispositionCode.MEASURE_AGAIN)
"""Choices that end the question; to measure again does not."""


@dataclass(frozen=True, slots=True)
class Class:
    """
    What rows of the posterior have in common, as far as costs are concerned.

    Parameters
    ----------
    world : str
        Of `settings.WORLDS`; ``clean`` is of `designation`.
    designation : int
        Which clean refrigerant; -1 for any other world.
    """

    world: str
    designation: int = -1


@dataclass(frozen=True, slots=True)
class CostTable:
    """
    Costs of each choice, before and after the contents are given a name.

    Parameters
    ----------
    named : ndarray[classes] of bool
        Those that are clean and of a designation that may name the contents.
    costs : ndarray[choices, classes]
        Of each choice where the contents are called by the name of no class, in the price of a measurement [-].
    gain : ndarray[choices]
        What is added where they are called by the name of the class that is true.
    """

    named: NDArray[np.bool_]
    costs: Floats
    gain: Floats

    def of(self, classes: NDArray[np.intp]) -> CostTable:
        """The same of some classes [found] only."""
        return CostTable(self.named[classes], self.costs[:, classes], self.gain)


def cost_table(
    classes: Sequence[Class], costs: Mapping[str, Mapping[str, float]], label: int | None
) -> CostTable:
    """
    Costs of the final choices.

    Parameters
    ----------
    classes
        Of the joint tables.
    costs
        By choice and world, in the price of one more measurement [-].
    label
        The designation on the label, which is then the only name; without one the likeliest names them.
    """
    named = [one.world == "clean" and label in (None, one.designation) for one in classes]
    other = "unknown" if label is None else "mislabeled"
    worlds = [other if one.world == "clean" else one.world for one in classes]
    rows = [costs[choice] for choice in FINAL if choice in costs]
    return CostTable(
        np.array(named, dtype=np.bool_),
        np.array([[row[world] for world in worlds] for row in rows], dtype=float),
        np.array([row["clean"] - row[other] for row in rows], dtype=float),
    )


def least(joint: Floats, table: CostTable) -> Floats:
    """
    Expected cost when the best choice is made after each outcome.

    Parameters
    ----------
    joint : ndarray[..., classes, outcomes]
        Probabilities; each sums to one [-].
    table : CostTable
        Of the same classes.

    Returns
    -------
    ndarray[...]
        In the price of one more measurement [-].
    """
    likeliest = joint[..., table.named, :].max(axis=-2, initial=0.0, keepdims=True)
    return np.asarray((table.costs @ joint + table.gain[:, None] * likeliest).min(axis=-2).sum(axis=-1))


def saved(joint: Floats, table: CostTable) -> Floats:
    """
    What knowing the outcome is expected to save; never negative.

    Parameters
    ----------
    joint : ndarray[..., classes, outcomes]
        Probabilities, not negative; each is normalised here [-].
    table : CostTable
        Of the same classes.

    Returns
    -------
    ndarray[...]
        In the price of one more measurement; 0 for a table that is zero throughout [-].
    """
    normal = joint / np.maximum(joint.sum(axis=(-2, -1), keepdims=True), 1e-300)
    return np.maximum(least(normal.sum(axis=-1, keepdims=True), table) - least(normal, table), 0.0)
