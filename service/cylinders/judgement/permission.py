"""Whether a cylinder's marks permit what it may hold."""

from dataclasses import dataclass
from functools import cache
from typing import Final

from service.cylinders.judgement.belief import LIKELY, Belief
from service.cylinders.judgement.hazards import with_what_burns
from service.cylinders.judgement.state import CylinderState
from service.cylinders.properties import Knowledge
from service.cylinders.rating import AirLoad, rating
from service.cylinders.rules import (
    CONFORMITY,
    FLAMMABLE_MARK,
    FOREIGN_MARKS,
    LAW_MISSING,
    MARKS_UNKNOWN,
    NON_REFILLABLE,
    Breach,
)

_OF_FILLING: Final = frozenset(
    rule.code
    for rule in (FLAMMABLE_MARK, MARKS_UNKNOWN, NON_REFILLABLE, LAW_MISSING, FOREIGN_MARKS, CONFORMITY)
)
"""A cylinder may go on holding what it was filled with by its maker or elsewhere, and whatever cannot be judged."""


@dataclass(frozen=True, slots=True)
class Permission:
    """What the marks say of everything believable.

    Parameters
    ----------
    breaches : tuple of Breach
        Every rating, packaging and flammable mark rule that something believable breaks.
    not_permitted, not_marked : float
        Probability that the contents are above the rating or packaging, and that they are flammable in a cylinder
        that is not marked for it [-].
    """

    breaches: tuple[Breach, ...] = ()
    not_permitted: float = 0.0
    not_marked: float = 0.0

    @property
    def must_move(self) -> bool:
        """The contents are likely to be in a cylinder that may not hold them."""
        return self.not_permitted >= LIKELY or self.not_marked >= LIKELY


def permission(state: CylinderState, belief: Belief, knowledge: Knowledge) -> Permission:
    """Judge everything that it may hold by the marks, with the air that was found."""
    if belief.is_empty:
        return Permission()
    air = air_load(state, state.net_mass_kg)

    @cache
    def breaches(designation: str) -> tuple[Breach, ...]:
        return rating(
            state.marks, designation, knowledge, air=air, flammable_marked=state.flammable_marked
        ).breaches

    def not_permitted(designation: str) -> bool:
        return any(breach.rule.code not in _OF_FILLING for breach in breaches(designation))

    found = [breach for name in with_what_burns(belief, knowledge) for breach in breaches(name)]
    return Permission(
        tuple(dict.fromkeys(found)),
        belief.may_hold(not_permitted) if found else 0.0,
        0.0 if state.flammable_marked else belief.may_hold(knowledge.is_flammable),
    )


def air_load(state: CylinderState, net_mass_kg: float | None) -> AirLoad:
    """Air that readings found, with the mass that it is compressed by [kg]."""
    found = state.assessment.air_partial_pressure_pa if state.assessment is not None else 0.0
    return AirLoad(0.0 if state.contents.is_empty else found, net_mass_kg, state.water_capacity_kg)
