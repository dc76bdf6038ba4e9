"""The one filling limit of a cylinder: the least of every rule over everything believable."""

from collections.abc import Sequence
from dataclasses import dataclass

from service.cylinders.books import BOOKS
from service.cylinders.filling import FillingLimit, worst_limit
from service.cylinders.judgement.belief import Belief
from service.cylinders.judgement.state import CylinderState
from service.cylinders.properties import (
    FILL_REFERENCE_K,
    LAW_HOT_K,
    Knowledge,
    covers,
    earliest_liquid_full_temp_k,
    liquid_fraction,
)


@dataclass(frozen=True, slots=True)
class Filling:
    """How full a cylinder is and how much it may hold; None where that cannot be told.

    Parameters
    ----------
    judged_by : tuple of str
        Everything that the contents may be; the worst of it counts.
    net_mass_kg : float or None
        What is in it [kg].
    limit : FillingLimit or None
        The governing limit.
    liquid_fraction, limit_fraction : float or None
        Share of the volume that is liquid at 25 °C, now and at the limit [-].
    liquid_full_temp_k : float or None
        At which the liquid fills it [K].
    """

    judged_by: tuple[str, ...]
    net_mass_kg: float | None
    limit: FillingLimit | None = None
    liquid_fraction: float | None = None
    limit_fraction: float | None = None
    liquid_full_temp_k: float | None = None

    @property
    def limit_kg(self) -> float | None:
        """Greatest net mass [kg]."""
        return None if self.limit is None else self.limit.mass_kg

    @property
    def left_kg(self) -> float | None:
        """Between what is in it and the limit [kg], whether or not it may be filled; never negative."""
        if self.limit_kg is None or self.net_mass_kg is None:
            return None
        return max(0.0, self.limit_kg - self.net_mass_kg)

    @property
    def over(self) -> bool:
        """
        More is in it than is allowed.

        Where the law of the place gives no limit: so much that liquid fills it at 55 °C or below.
        """
        if self.limit_kg is None:
            return self.liquid_full_temp_k is not None and self.liquid_full_temp_k <= LAW_HOT_K
        return (self.net_mass_kg or 0.0) > self.limit_kg + 1e-9


def filling(state: CylinderState, belief: Belief, knowledge: Knowledge) -> Filling:
    """How full it is and may be, by the worst of what it may hold."""
    names, net = () if belief.is_empty else belief.believable, state.net_mass_kg
    limit, capacity = limit_over(state, names, knowledge), state.water_capacity_kg
    if not capacity:
        return Filling(names, net)
    of_limit = None if limit is None else _level(capacity, names, limit.mass_kg, knowledge)
    if net is None:
        return Filling(names, None, limit, None, of_limit)
    full_at = earliest_liquid_full_temp_k(
        knowledge.saturation, names, net_mass_kg=net, water_capacity_kg=capacity
    )
    return Filling(names, net, limit, _level(capacity, names, net, knowledge), of_limit, full_at)


def limit_over(
    state: CylinderState, designations: Sequence[str], knowledge: Knowledge
) -> FillingLimit | None:
    """The least limit over some designations; None without one, without a water capacity, or where no law gives it."""
    if not state.water_capacity_kg or not designations or "filling" in BOOKS[state.marks.law].missing:
        return None
    return worst_limit(designations, state.water_capacity_kg, knowledge, marks=state.marks)


def _level(
    water_capacity_kg: float, names: Sequence[str], mass_kg: float, knowledge: Knowledge
) -> float | None:
    """Highest share of the volume that is liquid at 25 °C over the designations [-]."""
    fractions = [
        liquid_fraction(
            knowledge.saturation, name, net_mass_kg=mass_kg,
            water_capacity_kg=water_capacity_kg, temp_k=FILL_REFERENCE_K,
        )
        for name in names
        if covers(knowledge.saturation, name, FILL_REFERENCE_K)
    ]  # fmt: skip
    return max(fractions, default=None)
