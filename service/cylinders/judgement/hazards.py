"""The hazards of what a cylinder may hold: present if anything believable has them."""

from collections.abc import Callable
from dataclasses import dataclass

from service.codes import Hazard
from service.cylinders.judgement.belief import BELIEVABLE, LIKELY, Belief
from service.cylinders.judgement.state import CylinderState
from service.cylinders.properties import Knowledge


@dataclass(frozen=True, slots=True)
class BelievedHazard:
    """One hazard that the contents may have.

    Parameters
    ----------
    code : Hazard
        What it does to people.
    probability : float
        That the contents have it [-].
    designations : tuple of str
        What brings it, the likeliest first; none where it lies in the state or in not knowing.
    """

    code: Hazard
    probability: float
    designations: tuple[str, ...] = ()

    @property
    def likely(self) -> bool:
        """To be taken for present until shown otherwise."""
        return self.probability >= LIKELY


def hazards(state: CylinderState, belief: Belief, knowledge: Knowledge) -> tuple[BelievedHazard, ...]:
    """Every hazard with a probability of ``BELIEVABLE`` or more.

    Parameters
    ----------
    state : CylinderState
        Whether readings found it liquid-full.
    belief : Belief
        What may be in it.
    knowledge : Knowledge
        Safety classes and hazard divisions; a refrigerant of no known class counts as flammable.
    """
    found = [_of_content(code, belief, test) for code, test in _tests(knowledge)]
    found.append(BelievedHazard(Hazard.LIQUID_FULL, _liquid_full(state)))
    found.append(BelievedHazard(Hazard.UNKNOWN, belief.unknown if belief.unknown >= LIKELY else 0.0))
    return tuple(one for one in found if one.probability >= BELIEVABLE)


def with_what_burns(belief: Belief, knowledge: Knowledge) -> tuple[str, ...]:
    """Everything believable, and the likeliest flammable one where only all of them together are believable."""
    names = belief.believable
    if any(knowledge.is_flammable(name) for name in names):
        return names
    burning = _of_content(Hazard.FLAMMABLE, belief, knowledge.is_flammable)
    return (*names, *burning.designations[:1]) if burning.probability >= BELIEVABLE else names


def _liquid_full(state: CylinderState) -> float:
    judged = state.measured
    if judged is None:
        return 0.0
    return max(judged.liquid_full, LIKELY if judged.contents == "liquid-full" else 0.0)


def _tests(knowledge: Knowledge) -> tuple[tuple[Hazard, Callable[[str], bool]], ...]:
    return (
        (Hazard.FLAMMABLE, knowledge.is_flammable),
        (Hazard.TOXIC, knowledge.is_toxic),
        (Hazard.OXIDIZING, knowledge.is_oxidizing),
    )


def _of_content(code: Hazard, belief: Belief, test: Callable[[str], bool]) -> BelievedHazard:
    names: dict[str, float] = {}
    for one in belief.contents:
        for name, probability in ((one.designation, one.probability), *one.partners.items()):
            if test(name):
                names[name] = names.get(name, 0.0) + probability
    if not names:
        return BelievedHazard(code, 0.0)
    ordered = tuple(sorted(names, key=lambda name: (-names[name], name)))
    return BelievedHazard(code, belief.may_bring(test), ordered[:4])
