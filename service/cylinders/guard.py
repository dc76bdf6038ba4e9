"""May this much of this refrigerant go in, or out: every rule that is broken, none hidden.

A dry run and a transfer ask the same question here, so that they can never give different answers.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from service.cylinders import requalification, rules
from service.cylinders.contents import Contents
from service.cylinders.filling import FillingLimit, filling_breaches, worst_limit
from service.cylinders.properties import Knowledge
from service.cylinders.rating import AirLoad, worst_rating
from service.cylinders.rules import Breach, Caution, Rule
from service.cylinders.state import IN_SERVICE, CylinderState, Incoming


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
        The governing filling limit.
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


def check_in(state: CylinderState, incoming: Incoming, knowledge: Knowledge, *, on: date) -> Check:
    """May this go into this cylinder on this day."""
    possible = _worst_set(state, incoming)
    breaches = [*_standing(state), *requalification.breaches(state.marks, state.dates, on=on)]
    breaches += _mixing(state, incoming)
    judged = None
    if possible:
        judged = worst_rating(state.marks, possible, knowledge, air=_air(state, incoming),
                              flammable_marked=state.flammable_marked)  # fmt: skip
        breaches += judged.breaches
    elif state.marks.refillable is False:
        breaches.append(Breach(rules.NON_REFILLABLE, f"marked {state.marks.text!r}"))
    elif not state.marks.understood:
        breaches.append(Breach(rules.MARKS_UNKNOWN, state.marks.reason or "not understood"))
    limit = _limit(state, possible, knowledge)
    held = _held_kg(state)
    breaches += _filling(state, incoming, limit, held)
    remaining = None if limit is None or held is None else max(0.0, limit.mass_kg - held)
    after = None if remaining is None else max(0.0, remaining - incoming.mass_kg)
    return Check(tuple(_unique(breaches)), tuple(_cautions_in(state, on)), limit, remaining, after,
                 judged.accepted_by if judged else None)  # fmt: skip


def check_out(
    state: CylinderState,
    mass_kg: float,
    knowledge: Knowledge,
    *,
    as_vapour: bool,
    new_owner: str | None = None,
) -> Check:
    """May this mass [kg] come out: an overdue cylinder may be emptied, one on hold may not."""
    breaches = _standing(state)
    held = state.contents.mass_kg
    if held is not None and mass_kg > held + 0.05:
        breaches.append(Breach(rules.NOT_ENOUGH, f"{mass_kg:.2f} kg out of {held:.2f} kg"))
    cautions = []
    name = state.contents.designation
    hazard = knowledge.hazards(name) if name is not None else None
    if as_vapour and hazard is not None and hazard.has_glide:
        cautions.append(Caution(rules.VAPOUR_SHIFT, f"{name} is a blend with glide"))
    if new_owner is not None:
        cautions.append(Caution(rules.NEW_OWNER, f"it goes to {new_owner}"))
    return Check(tuple(breaches), tuple(cautions))


def _worst_set(state: CylinderState, incoming: Incoming) -> tuple[str, ...]:
    """Every designation by which rating and filling are judged: what comes in, and what may be in."""
    return tuple(dict.fromkeys([*incoming.possible, *state.possible]))


def _standing(state: CylinderState) -> list[Breach]:
    breaches = [Breach(rules.ON_HOLD, reason) for reason in state.holds]
    if state.standing != IN_SERVICE:
        breaches.append(Breach(rules.OUT_OF_SERVICE, state.standing))
    return breaches


def _mixing(state: CylinderState, incoming: Incoming) -> list[Breach]:
    if incoming.designation is None:
        return _unknown_incoming(state, incoming)
    if incoming.contradicted:
        looks = ", ".join(incoming.candidates)
        contradiction = Breach(rules.NAMEPLATE, f"it says {incoming.designation}, the check says {looks}")
        return [contradiction, *_unknown_incoming(state, incoming)]
    return _same_refrigerant(state, incoming.designation)


def _same_refrigerant(state: CylinderState, designation: str) -> list[Breach]:
    contents, assessment = state.contents, state.assessment
    if contents.is_empty:
        before = contents.last_designation
        if not contents.evacuated and contents.shares and before != designation:
            return [
                Breach(rules.NOT_EVACUATED, f"it last held {before or 'a mixture'} and was not evacuated")
            ]
        return []
    breaches = []
    known = state.known_designation
    if contents.is_mixed:
        breaches.append(Breach(rules.ONE_REFRIGERANT, f"it holds a mixture of {_shares(contents)}"))
    elif known is None:
        breaches.append(Breach(rules.CONTENTS_UNKNOWN, _why_unknown(state)))
    elif known != designation:
        breaches.append(Breach(rules.ONE_REFRIGERANT, f"it holds {known}; {designation} would be mixed in"))
    if assessment is not None and assessment.contamination == "mixed" and not contents.is_mixed:
        breaches.append(Breach(rules.ONE_REFRIGERANT, "the verdict calls its contents mixed"))
    return breaches


def _unknown_incoming(state: CylinderState, incoming: Incoming) -> list[Breach]:
    breaches = []
    if not state.contents.is_empty:
        breaches.append(Breach(rules.UNKNOWN_ALONE, "the cylinder is not empty"))
    elif not state.contents.evacuated:
        breaches.append(Breach(rules.UNKNOWN_ALONE, "the cylinder was not evacuated"))
    if not incoming.candidates:
        breaches.append(
            Breach(rules.UNKNOWN_UNMEASURED, "no pressure and temperature of the equipment are given")
        )
    return breaches


def _why_unknown(state: CylinderState) -> str:
    recorded, assessment = state.contents.designation, state.assessment
    if recorded is not None and assessment is not None:
        says = ", ".join(assessment.candidates) or "something else"
        return f"recorded as {recorded}, but the verdict says {says}"
    if assessment is not None and assessment.candidates:
        return f"the verdict leaves open {', '.join(assessment.candidates)}"
    return "nothing is recorded and nothing was measured; weigh it, hook it up, or record its evacuation"


def _limit(state: CylinderState, possible: Sequence[str], knowledge: Knowledge) -> FillingLimit | None:
    if state.water_capacity_kg is None or not possible:
        return None
    return worst_limit(possible, state.water_capacity_kg, knowledge, marks=state.marks)


def _held_kg(state: CylinderState) -> float | None:
    return 0.0 if state.contents.is_empty else state.contents.mass_kg


def _filling(
    state: CylinderState, incoming: Incoming, limit: FillingLimit | None, held: float | None
) -> list[Breach]:
    breaches = []
    if state.tare_kg is None:
        breaches.append(Breach(rules.MASS_UNKNOWN, "no tare is recorded"))
    if held is None:
        breaches.append(Breach(rules.MASS_UNKNOWN, "it has never been weighed with its present contents"))
    if state.water_capacity_kg is None or limit is not None:
        breaches += filling_breaches(limit, (held or 0.0) + incoming.mass_kg)
    return breaches


def _air(state: CylinderState, incoming: Incoming) -> AirLoad:
    partial = state.assessment.air_partial_pressure_pa if state.assessment else 0.0
    held = _held_kg(state)
    mass = None if held is None else held + incoming.mass_kg
    return AirLoad(0.0 if state.contents.is_empty else partial, mass, state.water_capacity_kg)


def _cautions_in(state: CylinderState, on: date) -> list[Caution]:
    contents, owner = state.contents, state.needs_consent_of
    claimed = contents.basis == "claim" and state.assessment is None
    unread = contents.is_empty and not state.vacuum_recorded
    told: list[tuple[bool, Rule, str]] = [
        (state.inspected_on != on, rules.INSPECTION, "no inspection is recorded today"),
        (True, rules.WEIGH_AGAIN, "weigh again when the line is off"),
        (owner is not None, rules.OWNER_CONSENT, f"it belongs to {owner}"),
        (claimed, rules.CLAIM_ONLY, f"{contents.designation} by its label only"),
        (unread, rules.NOT_EVACUATED, "no vacuum reading is recorded"),
    ]
    return [Caution(rule, detail) for applies, rule, detail in told if applies]


def _shares(contents: Contents) -> str:
    return ", ".join(f"{100.0 * share:.1f} % {name}" for name, share in sorted(contents.shares.items()))


def _unique(breaches: Sequence[Breach]) -> list[Breach]:
    return list(dict.fromkeys(breaches))
