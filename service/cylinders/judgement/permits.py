"""What may be done with a cylinder: each act allowed, or the complete list of reasons against it."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import Final

from service.cylinders import requalification, rules
from service.cylinders.filling import filling_breaches
from service.cylinders.judgement.belief import Kind
from service.cylinders.judgement.causes import Cause
from service.cylinders.judgement.causes import Kind as CauseKind
from service.cylinders.judgement.guard import Question, advised, check_in, check_out, standing
from service.cylinders.judgement.hazards import with_what_burns
from service.cylinders.judgement.limit import Filling
from service.cylinders.judgement.permission import Permission
from service.cylinders.judgement.state import Incoming
from service.cylinders.rating import marks_alone, worst_rating
from service.cylinders.rules import Breach
from service.units import c_from_k

_LOSING: Final = frozenset({CauseKind.LEAK, CauseKind.BOILING_OFF})
FOUND_KG: Final = 0.1
"""So much on the scale means that something is in it (a judgement) [kg]."""


class Act(StrEnum):
    """What people do with cylinders."""

    FILL = "fill"
    DRAW_LIQUID = "draw-liquid"
    DRAW_VAPOR = "draw-vapor"
    CARRY = "carry"
    RECLAIM = "hand-over-for-reclaim"
    DESTRUCTION = "hand-over-for-destruction"
    EVACUATE = "evacuate"
    RELABEL = "relabel"
    REQUALIFY = "requalify"


@dataclass(frozen=True, slots=True)
class Permit:
    """One act, and everything that stands against it."""

    act: Act
    reasons: tuple[Breach, ...] = ()

    @property
    def allowed(self) -> bool:
        """Nothing stands against it."""
        return not self.reasons


@dataclass(frozen=True, slots=True)
class Situation:
    """What the permits are drawn from."""

    asked: Question
    filling: Filling
    permission: Permission
    causes: tuple[Cause, ...]
    on: date


class Permits(Mapping[Act, Permit]):
    """A permit for every act, each drawn up when somebody first asks: a list of cylinders asks for few.

    Parameters
    ----------
    now : Situation
        What they are drawn from.
    """

    def __init__(self, now: Situation) -> None:
        self._now = now
        self._drawn: dict[Act, Permit] = {}

    def __getitem__(self, act: Act) -> Permit:
        """The permit for one act."""
        permit = self._drawn.get(act)
        if permit is None:
            permit = self._drawn[act] = Permit(act, tuple(dict.fromkeys(_RULES[act](self._now))))
        return permit

    def __iter__(self) -> Iterator[Act]:
        """Every act, in their order."""
        return iter(Act)

    def __len__(self) -> int:
        """How many acts there are."""
        return len(Act)


def _fill(now: Situation) -> list[Breach]:
    """Could more of what is in it go in, or anything at all into an empty one."""
    asked = now.asked
    first = asked.belief.first
    if asked.belief.is_empty or first is None:
        return _fill_empty(now)
    found = list(check_in(asked, Incoming(first.designation, 0.0), on=now.on).breaches)
    if now.filling.left_kg is not None and now.filling.left_kg <= 0.0 and now.filling.limit is not None:
        full = f"it holds {now.filling.net_mass_kg:.2f} kg of {now.filling.limit_kg:.2f} kg"
        found.append(Breach(now.filling.limit.governing.rule, full))
    return found


def _fill_empty(now: Situation) -> list[Breach]:
    """Whatever forbids anything, without knowing what is to come."""
    state = now.asked.state
    found = [*standing(state), *requalification.breaches(state.marks, state.dates, on=now.on)]
    found += advised(now.asked, "in")
    residue = with_what_burns(now.asked.belief, now.asked.knowledge)
    found += (
        marks_alone(state.marks)
        if not residue
        else worst_rating(
            state.marks, residue, now.asked.knowledge, flammable_marked=state.flammable_marked
        ).breaches
    )
    if state.water_capacity_kg is None:
        found += filling_breaches(None, 0.0)
    if state.tare_kg is None:
        found.append(Breach(rules.MASS_UNKNOWN, "no tare is recorded"))
    if not now.asked.belief.is_empty:
        found.append(Breach(rules.CONTENTS_UNKNOWN, "nobody knows what is in it"))
    return found


def _draw(now: Situation) -> list[Breach]:
    # Whether liquid or vapor comes out changes what is warned of, not what is refused.
    found = list(check_out(now.asked, 0.0, as_vapour=False).breaches)
    if now.asked.belief.is_empty:
        found.append(Breach(rules.NOT_ENOUGH, "it is empty"))
    return found


def _carry(now: Situation) -> list[Breach]:
    """Not while it leaks, is overfull, or holds what its marks do not permit."""
    found = _in_service(now)
    found += [Breach(rules.LEAKING, cause.text) for cause in now.causes if cause.kind in _LOSING]
    if now.filling.over:
        found += _over(now.filling)
    if now.permission.must_move:
        found += [one for one in now.permission.breaches if one.rule.code != rules.NON_REFILLABLE.code]
    return found


def _over(filling: Filling) -> list[Breach]:
    if filling.limit is not None:
        return filling_breaches(filling.limit, filling.net_mass_kg or 0.0)
    return [Breach(rules.FILL_55, f"liquid fills it at {c_from_k(filling.liquid_full_temp_k or 0.0):.0f} °C")]


def _hand_over(now: Situation) -> list[Breach]:
    found = standing(now.asked.state) + [one for one in _carry(now) if one.rule is not rules.OUT_OF_SERVICE]
    if now.asked.state.tare_kg is None:
        found.append(Breach(rules.MASS_UNKNOWN, "no tare is recorded"))
    return found


def _reclaim(now: Situation) -> list[Breach]:
    found = _hand_over(now)
    belief = now.asked.belief
    if not belief.is_empty and belief.probability(Kind.MIXED) >= 0.5:
        found.append(Breach(rules.MIXED_FOR_RECLAIM, f"it is likely to hold {now.asked.name.text}"))
    return found


def _evacuate(now: Situation) -> list[Breach]:
    state = now.asked.state
    found = standing(state)
    held = state.net_mass_kg
    if held is not None and held > FOUND_KG:
        found.append(Breach(rules.RECOVER_FIRST, f"{held:.2f} kg are in it: record where that went first"))
    return found


def _in_service(now: Situation) -> list[Breach]:
    return [one for one in standing(now.asked.state) if one.rule is rules.OUT_OF_SERVICE]


_RULES: Final[dict[Act, Callable[[Situation], list[Breach]]]] = {
    Act.FILL: _fill,
    Act.DRAW_LIQUID: _draw,
    Act.DRAW_VAPOR: _draw,
    Act.CARRY: _carry,
    Act.RECLAIM: _reclaim,
    Act.DESTRUCTION: _hand_over,
    Act.EVACUATE: _evacuate,
    Act.RELABEL: _in_service,
    Act.REQUALIFY: _in_service,
}
