"""May this much of this refrigerant go in, or out: every rule that is broken, none hidden.

A dry run and a transfer ask the same question here, so that they can never give different answers.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date

from service.codes import Standing
from service.cylinders import requalification, rules
from service.cylinders.contents import Contents
from service.cylinders.filling import FillingLimit, filling_breaches
from service.cylinders.judgement.advice import Advice
from service.cylinders.judgement.belief import DECIDED, Belief, Kind, Source
from service.cylinders.judgement.hazards import with_what_burns
from service.cylinders.judgement.limit import limit_over
from service.cylinders.judgement.naming import Name
from service.cylinders.judgement.permission import air_load
from service.cylinders.judgement.state import CylinderState, Incoming
from service.cylinders.properties import Knowledge
from service.cylinders.rating import marks_alone, worst_rating
from service.cylinders.rules import Breach, Caution, Rule

SCALE_KG = 0.05
"""A trade scale read twice may differ by this (practice) [kg]."""


@dataclass(frozen=True, slots=True)
class Check:
    """Answer of the guard.

    Parameters
    ----------
    breaches : tuple of Breach
        Every broken rule.
    cautions : tuple of Caution
        What has to be said without forbidding.
    limit : FillingLimit or None
        The governing filling limit, with what comes in.
    remaining_kg, remaining_after_kg : float or None
        How much more may go in: before what was asked for, and after it [kg].
    accepted_by : Rule or None
        The rule by which the rating accepts.
    """

    breaches: tuple[Breach, ...]
    cautions: tuple[Caution, ...] = ()
    limit: FillingLimit | None = None
    remaining_kg: float | None = None
    remaining_after_kg: float | None = None
    accepted_by: Rule | None = None

    @property
    def allowed(self) -> bool:
        """No rule is broken."""
        return not self.breaches

    @property
    def may_be_overridden(self) -> bool:
        """A supervisor may decide otherwise: the law leaves room for every broken rule."""
        return bool(self.breaches) and all(breach.rule.may_override for breach in self.breaches)


@dataclass(frozen=True, slots=True)
class Question:
    """A cylinder with what is judged of it, for any question of the guard."""

    state: CylinderState
    belief: Belief
    name: Name
    advice: Advice
    knowledge: Knowledge = field(repr=False)


def check_in(asked: Question, incoming: Incoming, *, on: date) -> Check:
    """May this go into this cylinder on this day."""
    state, knowledge = asked.state, asked.knowledge
    possible = tuple(dict.fromkeys([*incoming.possible, *asked.belief.believable]))
    burning = [
        one
        for belief in (incoming.belief, asked.belief)
        if belief
        for one in with_what_burns(belief, knowledge)
    ]
    breaches = [*standing(state), *requalification.breaches(state.marks, state.dates, on=on)]
    breaches += advised(asked, "in")
    breaches += _mixing(asked, incoming)
    judged = None
    if possible:
        judged = worst_rating(
            state.marks, dict.fromkeys([*possible, *burning]), knowledge, air=air_load(state, _after(state, incoming)),
            flammable_marked=state.flammable_marked,
        )  # fmt: skip
        breaches += judged.breaches
    else:
        breaches += marks_alone(state.marks)
    limit = limit_over(state, possible, knowledge)
    breaches += _filling(state, incoming, limit)
    held = state.net_mass_kg
    remaining = None if limit is None or held is None else max(0.0, limit.mass_kg - held)
    after = None if remaining is None else max(0.0, remaining - incoming.mass_kg)
    return Check(tuple(dict.fromkeys(breaches)), tuple(_cautions_in(asked, incoming, on)), limit, remaining, after,
                 judged.accepted_by if judged else None)  # fmt: skip


def check_out(asked: Question, mass_kg: float, *, as_vapour: bool, new_owner: str | None = None) -> Check:
    """May this mass [kg] come out: an overdue cylinder may be emptied, one on hold may not."""
    state = asked.state
    breaches = [*standing(state), *advised(asked, "out")]
    held = state.net_mass_kg
    if held is not None and mass_kg > held + SCALE_KG:
        breaches.append(Breach(rules.NOT_ENOUGH, f"{mass_kg:.2f} kg out of {held:.2f} kg"))
    cautions = []
    glides = [name for name in asked.belief.believable if asked.knowledge.has_glide(name)]
    if as_vapour and glides:
        cautions.append(Caution(rules.VAPOUR_SHIFT, f"{glides[0]} is a blend with glide"))
    if new_owner is not None:
        cautions.append(Caution(rules.NEW_OWNER, f"it goes to {new_owner}"))
    return Check(tuple(dict.fromkeys(breaches)), tuple(cautions))


def standing(state: CylinderState) -> list[Breach]:
    """Whatever forbids everything: a hold, and that it left this shop's service."""
    breaches = [Breach(rules.ON_HOLD, reason) for reason in state.holds]
    if state.standing != Standing.IN_SERVICE:
        breaches.append(Breach(rules.OUT_OF_SERVICE, state.standing))
    return breaches


def advised(asked: Question, way: str) -> list[Breach]:
    """The advice as a reason, where it forbids and no rule of its own stands for it."""
    if way not in asked.advice.forbids or asked.advice.code in {"on-hold", "out-of-service"}:
        return []
    return [Breach(rules.ADVICE, asked.advice.text)]


def _mixing(asked: Question, incoming: Incoming) -> list[Breach]:
    if incoming.designation is None:
        return _unknown_incoming(asked.state, incoming)
    if incoming.contradicted:
        looks = ", ".join(incoming.candidates)
        contradiction = Breach(rules.NAMEPLATE, f"it says {incoming.designation}, the check says {looks}")
        return [contradiction, *_unknown_incoming(asked.state, incoming)]
    return _same_refrigerant(asked, incoming.designation)


def _same_refrigerant(asked: Question, designation: str) -> list[Breach]:
    contents, belief = asked.state.contents, asked.belief
    if belief.is_empty:
        return _after_emptying(contents, belief, designation)
    if asked.name.mixed_on_record:
        return [Breach(rules.ONE_REFRIGERANT, f"it holds a mixture of {asked.name.text}")]
    breaches = []
    first = belief.first
    if first is None or (first.probability < DECIDED and not _only_claim(belief)):
        breaches.append(Breach(rules.CONTENTS_UNKNOWN, _why_unknown(asked)))
    elif first.designation != designation:
        breaches.append(
            Breach(rules.ONE_REFRIGERANT, f"it holds {asked.name.text}; {designation} would be mixed in")
        )
    if asked.name.form == "mixed" or (first is not None and first.kinds.get(Kind.MIXED, 0.0) > first.alone):
        breaches.append(Breach(rules.ONE_REFRIGERANT, f"it is likely to hold {asked.name.text}"))
    return breaches


def _only_claim(belief: Belief) -> bool:
    return len(belief.contents) == 1 and belief.contents[0].source is Source.LABEL


def _after_emptying(contents: Contents, belief: Belief, designation: str) -> list[Breach]:
    if contents.evacuated:
        return []
    before = contents.last_designation
    other = belief.believable not in {(), (designation,)}
    if other or (contents.shares and before != designation):
        held = " or ".join(belief.believable) or "a mixture"
        return [Breach(rules.NOT_EVACUATED, f"it last held {held} and was not evacuated")]
    return []


def _unknown_incoming(state: CylinderState, incoming: Incoming) -> list[Breach]:
    breaches = []
    if not state.contents.is_empty:
        breaches.append(Breach(rules.UNKNOWN_ALONE, "the cylinder is not empty"))
    elif not state.contents.evacuated:
        breaches.append(Breach(rules.UNKNOWN_ALONE, "the cylinder was not evacuated"))
    if not incoming.possible:
        breaches.append(
            Breach(rules.UNKNOWN_UNMEASURED, "no pressure and temperature of the equipment are given")
        )
    return breaches


def _why_unknown(asked: Question) -> str:
    name = asked.name
    if name.form == "unknown" and not name.instead:
        return "nothing is recorded and nothing was measured; weigh it, hook it up, or record its evacuation"
    may_be = " or ".join(dict.fromkeys([*([name.designation] if name.designation else []), *name.instead]))
    return f"it may hold {may_be}"


def _after(state: CylinderState, incoming: Incoming) -> float | None:
    held = state.net_mass_kg
    return None if held is None else held + incoming.mass_kg


def _filling(state: CylinderState, incoming: Incoming, limit: FillingLimit | None) -> list[Breach]:
    breaches, held = [], state.net_mass_kg
    if state.tare_kg is None:
        breaches.append(Breach(rules.MASS_UNKNOWN, "no tare is recorded"))
    if held is None:
        breaches.append(Breach(rules.MASS_UNKNOWN, "it has never been weighed with its present contents"))
    if state.water_capacity_kg is None or limit is not None:
        breaches += filling_breaches(limit, (held or 0.0) + incoming.mass_kg)
    return breaches


def _cautions_in(asked: Question, incoming: Incoming, on: date) -> list[Caution]:
    state, owner = asked.state, asked.state.needs_consent_of
    first = asked.belief.first
    claimed = first is not None and first.source is Source.LABEL
    unread = state.contents.is_empty and not state.vacuum_recorded
    likelier = f"the check of the equipment finds {' or '.join(incoming.candidates[:1])} more likely"
    told: Sequence[tuple[bool, Rule, str]] = (
        (state.inspected_on != on, rules.INSPECTION, "no inspection is recorded today"),
        (True, rules.WEIGH_AGAIN, "weigh again when the line is off"),
        (owner is not None, rules.OWNER_CONSENT, f"it belongs to {owner}"),
        (claimed, rules.CLAIM_ONLY, f"{asked.name.text}, {asked.name.ground}"),
        (unread, rules.NOT_EVACUATED, "no vacuum reading is recorded"),
        (incoming.doubted, rules.NAMEPLATE, likelier),
    )
    return [Caution(rule, detail) for applies, rule, detail in told if applies]
