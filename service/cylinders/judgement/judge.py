"""Put the one judgement of a cylinder together, each part from those before it."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from functools import partial

from service.cylinders.boiling import Fall, boiling_off, quickest_tau_s
from service.cylinders.judgement.advice import Advice, Grounds, advise, unknowns
from service.cylinders.judgement.attention import attention
from service.cylinders.judgement.belief import Belief
from service.cylinders.judgement.causes import Cause, Course, Kind, Live, Seen, Stood
from service.cylinders.judgement.guard import Check, Question, check_in, check_out
from service.cylinders.judgement.hazards import BelievedHazard, hazards
from service.cylinders.judgement.limit import Filling, filling
from service.cylinders.judgement.naming import Name, name
from service.cylinders.judgement.permission import Permission, permission
from service.cylinders.judgement.permits import Act, Permit, Permits, Situation
from service.cylinders.judgement.state import CylinderState, Incoming, believe
from service.cylinders.plausibility import net_mass_doubt
from service.cylinders.properties import Knowledge, boiling_temp_k
from service.cylinders.requalification import Requalification, for_contents, requalification

LOSING = frozenset({Kind.LEAK, Kind.BOILING_OFF})
"""Causes that say that the cylinder is losing its contents."""


@dataclass(frozen=True, slots=True)
class Judgement:
    """What a cylinder may hold, what may be done with it, what must be done next, and what it is called.

    Parameters
    ----------
    state : CylinderState
        What it rests on.
    belief : Belief
        What may be in it.
    hazards : tuple of BelievedHazard
        Present if anything believable has them.
    name : Name
        What paper and page call it.
    filling : Filling
        How full, and the one limit.
    permission : Permission
        What the marks say of everything believable.
    requalification : Requalification
        Where its retest stands.
    advice : Advice
        The one next thing to do.
    attention : tuple of Cause
        What needs somebody, the most serious first.
    permits : mapping of Act to Permit
        What may be done.
    unknowns : tuple of (str, str)
        What was needed and is not known: stable codes, and words.
    on : date
        The day it was judged, at the cylinder's place.
    """

    state: CylinderState
    belief: Belief
    hazards: tuple[BelievedHazard, ...]
    name: Name
    filling: Filling
    permission: Permission
    requalification: Requalification
    advice: Advice
    attention: tuple[Cause, ...]
    permits: Mapping[Act, Permit]
    unknowns: tuple[tuple[str, str], ...]
    on: date
    knowledge: Knowledge = field(repr=False, compare=False)

    @property
    def room_kg(self) -> float | None:
        """How much more may go in [kg]; None where nothing may, or nobody can tell."""
        return self.filling.left_kg if self.permits[Act.FILL].allowed else None

    @property
    def stop_gross_kg(self) -> float | None:
        """Gross mass at which filling stops, tare and limit together [kg]; None where there is no room to tell."""
        tare, limit = self.state.tare_kg, self.filling.limit_kg
        return None if self.room_kg is None or tare is None or limit is None else tare + limit

    def hazard(self, code: str) -> BelievedHazard | None:
        """One hazard, if it is present."""
        return next((one for one in self.hazards if one.code == code), None)

    @property
    def not_excluded(self) -> tuple[str, ...]:
        """``flammable``, ``toxic``: what readings leave open where nobody vouches, beside the hazards believed in."""
        told = self.state.assessment
        return () if told is None else tuple(one for one in told.not_excluded if self.hazard(one) is None)

    def may_take(self, incoming: Incoming) -> Check:
        """May this go in: every broken rule, none hidden."""
        return check_in(self._question, incoming, on=self.on)

    def may_give(self, mass_kg: float, *, as_vapour: bool, new_owner: str | None = None) -> Check:
        """May this mass come out [kg]."""
        return check_out(self._question, mass_kg, as_vapour=as_vapour, new_owner=new_owner)

    @property
    def _question(self) -> Question:
        return Question(self.state, self.belief, self.name, self.advice, self.knowledge)


def judge(
    state: CylinderState,
    knowledge: Knowledge,
    *,
    on: date,
    live: Live | None = None,
    course: Course | None = None,
    stood: Mapping[str, Stood] | None = None,
) -> Judgement:
    """
    Judge one cylinder.

    Parameters
    ----------
    state : CylinderState
        What is known of it.
    knowledge : Knowledge
        Curves, published tables, hazards.
    on : date
        The day at its place.
    live : Live, optional
        What its devices say now.
    course : Course, optional
        How mass and pressure changed.
    stood : mapping of str to Stood, optional
        Causes noted down that have not ended, by kind.
    """
    belief = believe(state)
    state = replace(state, dates=for_contents(state.dates, belief.believable))
    may_hold, full = permission(state, belief, knowledge), filling(state, belief, knowledge)
    due = requalification(state.marks, state.dates, on=on)
    called, dangers = name(state, belief), hazards(state, belief, knowledge)
    course = course or Course()
    heavy = _too_heavy(state, belief, knowledge)
    if heavy:
        course = replace(course, implausible=(*course.implausible, heavy))
    grounds = Grounds(state, belief, dangers, full, called, may_hold, due)
    live = live or Live()
    cooling = _cooling(state, belief, knowledge, live)
    seen = Seen(state, belief, full, called, may_hold, advise(grounds), due, live, course, cooling)
    causes = attention(seen, stood or {})
    advice = seen.advice
    if any(cause.kind in LOSING for cause in causes):
        advice = advise(replace(grounds, losing=True))
    asked = Question(state, belief, called, advice, knowledge)
    return Judgement(
        state, belief, dangers, called, full, may_hold, due, advice, causes,
        Permits(Situation(asked, full, may_hold, causes, on)), unknowns(state), on, knowledge,
    )  # fmt: skip


def _cooling(state: CylinderState, belief: Belief, knowledge: Knowledge, live: Live) -> Fall | None:
    """How it cools, where no air explains it: by the curves of everything that it may hold."""
    if live.recent is None or belief.is_empty:
        return None
    curves = [
        partial(boiling_temp_k, knowledge.saturation, one)
        for one in belief.believable
        if knowledge.hazards(one) is not None
    ]
    tau_s = quickest_tau_s(state.tare_kg, state.water_capacity_kg, state.net_mass_kg)
    return boiling_off(live.recent, curves, tau_s=tau_s)


def _too_heavy(state: CylinderState, belief: Belief, knowledge: Knowledge) -> str | None:
    """Why the mass on record cannot be that of anything believable in this cylinder."""
    net, capacity = state.net_mass_kg, state.water_capacity_kg
    if not net or not capacity:
        return None
    doubt = net_mass_doubt(net, belief.believable, capacity, knowledge.saturation)
    return None if doubt is None else f"{net:.2f} kg net: {doubt.why}"
