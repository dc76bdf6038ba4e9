"""The one next thing to do with a cylinder, and what it forbids until that is done."""

from dataclasses import dataclass, replace
from typing import Final, Literal

from service.codes import DispositionCode, Hazard, Standing
from service.cylinders.judgement.belief import BELIEVABLE, Belief, Kind
from service.cylinders.judgement.hazards import BelievedHazard
from service.cylinders.judgement.limit import Filling
from service.cylinders.judgement.naming import Name
from service.cylinders.judgement.permission import Permission
from service.cylinders.judgement.state import CylinderState
from service.cylinders.requalification import Requalification, State
from service.units import c_from_k, f_from_k, kpa_from_pa, lb_from_kg, psi_from_pa

Way = Literal["in", "out"]

NEITHER: Final[frozenset[Way]] = frozenset()
"""Forbids nothing."""
NOTHING_IN: Final[frozenset[Way]] = frozenset({"in"})
"""Forbids filling."""
NOTHING_AT_ALL: Final[frozenset[Way]] = frozenset({"in", "out"})
"""Forbids filling and drawing off."""
LIQUID_FULL_ALARM: Final = 0.10
"""From this probability on a cylinder is treated as full of liquid (a judgement) [-]."""
FORBIDS: Final[dict[str, frozenset[Way]]] = {
    DispositionCode.KEEP: NEITHER,
    DispositionCode.MEASURE_AGAIN: NOTHING_AT_ALL,
    DispositionCode.HOLD: NOTHING_AT_ALL,
    DispositionCode.RECOVER_AND_RECYCLE: NOTHING_IN,
    DispositionCode.SEND_TO_RECLAIMER: NOTHING_AT_ALL,
    DispositionCode.SEND_FOR_DESTRUCTION: NOTHING_IN,
}
"""What each disposition of a verdict forbids until it has ended; handing it over is no drawing off."""


_RELEASE_FIRST: Final = "It is on hold: a supervisor has to release it first."


@dataclass(frozen=True, slots=True)
class Advice:
    """The next thing to do.

    Parameters
    ----------
    code : str
        Stable name.
    text : str
        In the words of a technician.
    disposition : str
        The nearest disposition of a verdict: ``keep``, ``measure-again``, ``hold``, ``recover-and-recycle``,
        ``send-to-reclaimer``, ``send-for-destruction``.
    forbids : frozenset of {"in", "out"}
        What may not be done until then.
    release_code : str or None
        Under which code a supervisor may release it for these contents; None where nobody may.
    """

    code: str
    text: str
    disposition: str = DispositionCode.KEEP
    forbids: frozenset[Way] = NEITHER
    release_code: str | None = None


@dataclass(frozen=True, slots=True)
class Grounds:
    """Everything that the advice is drawn from.

    Parameters
    ----------
    state, belief, hazards, filling, name, permission, requalification
        The parts of the judgement that come before it.
    losing : bool
        A cause stands that says it loses refrigerant now.
    """

    state: CylinderState
    belief: Belief
    hazards: tuple[BelievedHazard, ...]
    filling: Filling
    name: Name
    permission: Permission
    requalification: Requalification
    losing: bool = False


def advise(grounds: Grounds) -> Advice:
    """The most pressing advice, with all that any other advice forbids beside it."""
    pressing = _first(grounds)
    others = NEITHER
    if _must_be_emptied(grounds):
        if grounds.state.holds and grounds.state.standing == Standing.IN_SERVICE:
            pressing = replace(pressing, text=f"{pressing.text} {_RELEASE_FIRST}")
    else:
        label = None if grounds.name.mixed_on_record else _label(grounds)
        others = _of_readings(grounds.state).forbids | _of_holds(grounds.state)
        others |= label.forbids if label is not None else NEITHER
    return replace(pressing, forbids=pressing.forbids | others)


def contradicted(state: CylinderState, belief: Belief) -> bool:
    """
    Whether the label names something that the contents, by all that is known of them, are not.

    A refrigerant that is believable only together with another one, and is not the likeliest, is not what it says.
    """
    first, label = belief.first, state.label
    if label is None or belief.is_empty or first is None:
        return False
    found = belief.of(label)
    if found is None or found.probability < BELIEVABLE:
        return True
    by_itself = found.probability - found.kinds.get(Kind.MIXED, 0.0)
    return by_itself < BELIEVABLE and first.designation != label


def _first(grounds: Grounds) -> Advice:
    for rule in (
        _gone,
        _danger,
        _not_permitted,
        _held,
        _not_empty,
        _mixture,
        _label,
        _readings,
        _mislabeled,
        _open_points,
    ):
        advice = rule(grounds)
        if advice is not None:
            return advice
    return Advice(DispositionCode.KEEP, _keep_text(grounds))


def _must_be_emptied(grounds: Grounds) -> bool:
    """Taking refrigerant out is the remedy: no doubt about what it is stands against that."""
    return _danger(grounds) is not None or grounds.permission.must_move


def _gone(grounds: Grounds) -> Advice | None:
    standing = grounds.state.standing
    if standing == Standing.IN_SERVICE:
        return None
    return Advice("out-of-service", f"It is {standing.replace('-', ' ')}: no longer in this shop's service.",
                  DispositionCode.HOLD, NOTHING_AT_ALL)  # fmt: skip


def _danger(grounds: Grounds) -> Advice | None:
    full = next((one.probability for one in grounds.hazards if one.code == Hazard.LIQUID_FULL), 0.0)
    if full >= LIQUID_FULL_ALARM:
        return Advice(
            "relieve",
            "It may be full of liquid: pressure can rise by over 100 psi (7 bar) per kelvin. Keep it cool and out of "
            "the sun, keep people away, and have a certified technician take liquid out into an empty cylinder.",
            DispositionCode.HOLD, NOTHING_IN,
        )  # fmt: skip
    if grounds.losing:
        return Advice(
            "leak",
            "It is losing refrigerant. Get people out and air the place. Then, with gloves and eye protection, close "
            "the valve; if that does not stop it, bring it outdoors and recover the rest.",
            DispositionCode.HOLD, NOTHING_IN,
        )  # fmt: skip
    if grounds.filling.over:
        return Advice(
            "take-out",
            f"Overfull: {_too_much(grounds.filling)} of liquid out, into an empty cylinder that may hold it. Keep it "
            "cool until then.",
            DispositionCode.HOLD, NOTHING_IN,
        )  # fmt: skip
    return None


def _too_much(filling: Filling) -> str:
    if filling.limit_kg is None:
        full_k = filling.liquid_full_temp_k or 0.0
        return f"{c_from_k(full_k):.0f} °C ({f_from_k(full_k):.0f} °F) fills it with liquid. Take some"
    return f"take at least {_mass((filling.net_mass_kg or 0.0) - filling.limit_kg)}"


def _not_permitted(grounds: Grounds) -> Advice | None:
    if not grounds.permission.must_move:
        return None
    why = grounds.permission.breaches[0]
    return Advice(
        "move-contents",
        f"This cylinder may not hold what is likely in it ({why.detail}). Move the contents into a cylinder that is "
        "rated and marked for them. Keep it cool until then.",
        DispositionCode.HOLD, NOTHING_IN,
    )  # fmt: skip


def _held(grounds: Grounds) -> Advice | None:
    if not grounds.state.holds:
        return None
    text = f"On hold: {'; '.join(grounds.state.holds)}. Nothing in or out until a supervisor releases it."
    return Advice("on-hold", text, DispositionCode.HOLD, NOTHING_AT_ALL)


def _not_empty(grounds: Grounds) -> Advice | None:
    found = grounds.state.found_pressure_pa
    if found is None or "not-empty" in grounds.state.released:
        return None
    pressure = f"{psi_from_pa(found):.0f} psi ({kpa_from_pa(found):.0f} kPa) absolute"
    return Advice(
        "not-empty",
        f"It is recorded as empty and a reading showed {pressure}. Find out what is in it before anything goes in.",
        DispositionCode.MEASURE_AGAIN, NOTHING_IN, "not-empty",
    )  # fmt: skip


def _mixture(grounds: Grounds) -> Advice | None:
    if not grounds.name.mixed_on_record:
        return None
    return Advice(
        DispositionCode.SEND_FOR_DESTRUCTION,
        f"It holds a mixture by record ({grounds.name.text}). Ask the reclaimer whether it can be separated; expect "
        "destruction at your expense. Nothing more in.",
        DispositionCode.SEND_FOR_DESTRUCTION, NOTHING_IN,
    )  # fmt: skip


def _label(grounds: Grounds) -> Advice | None:
    return None if "label" in grounds.state.released else _of_label(grounds)


def _of_label(grounds: Grounds) -> Advice | None:
    state, found = grounds.state, grounds.name
    if not contradicted(state, grounds.belief):
        return None
    said = f"The label says {state.label}"
    if found.form == "single":
        text = f"{said}; it holds {found.text} ({found.ground}). Relabel it before anything goes in."
        return Advice("relabel", text, _worse_than_keep(state), NOTHING_IN, "label")
    text = f"{said}, and the readings rule that out: {found.text}. Do not use it as {state.label}; measure again."
    return Advice("investigate-label", text, _worse_than_keep(state), NOTHING_AT_ALL, "label")


def _mislabeled(grounds: Grounds) -> Advice | None:
    """A label that nobody may go by, also where a supervisor has released what it forbids."""
    advice = _of_label(grounds)
    return None if advice is None else replace(advice, forbids=NEITHER, release_code=None)


def _worse_than_keep(state: CylinderState) -> str:
    told = state.assessment.disposition if state.assessment is not None else DispositionCode.MEASURE_AGAIN
    return DispositionCode.MEASURE_AGAIN if told == DispositionCode.KEEP else told


def _readings(grounds: Grounds) -> Advice | None:
    found = _of_readings(grounds.state)
    return found if found.code != DispositionCode.KEEP else None


def _of_readings(state: CylinderState) -> Advice:
    """What the readings alone advise, unless a supervisor has released that."""
    judged = state.assessment
    if judged is None or state.contents.is_empty or judged.disposition in state.released:
        return Advice(DispositionCode.KEEP, "")
    before = "Something was done since the last check, which said: " if judged.carried else ""
    code = judged.disposition
    return Advice(code, before + judged.text, code, FORBIDS.get(code, NOTHING_AT_ALL), code)


def _of_holds(state: CylinderState) -> frozenset[Way]:
    return NOTHING_AT_ALL if state.holds else NEITHER


def _open_points(grounds: Grounds) -> Advice | None:
    """What is missing before the cylinder can be used, the first of it."""
    state = grounds.state
    if grounds.name.form == "unknown":
        return Advice("identify", "Nobody knows what is in it. Hook up gauge and thermometer, and weigh it.",
                      DispositionCode.MEASURE_AGAIN)  # fmt: skip
    if grounds.requalification.state is State.OVERDUE:
        return Advice("retest", "Its retest is overdue. It may be emptied and shipped, but not filled.")
    if grounds.requalification.state is State.NEVER:
        return Advice("do-not-refill", "Not refillable. Empty it through recovery equipment, then scrap it.")
    missing = unknowns(state)
    if missing:
        return Advice("complete", f"Not known: {', '.join(text for _, text in missing)}.")
    if state.contents.is_empty and not state.contents.evacuated:
        return Advice(
            "evacuate", "Empty, but not evacuated. Draw it to vacuum before it takes another refrigerant."
        )
    if state.contents.is_empty:
        return Advice("ready", "Evacuated, and ready to be filled.")
    if state.assessment is None:
        return Advice(
            "check", f"Known {grounds.name.ground}. A pressure and temperature check takes minutes."
        )
    return None


def unknowns(state: CylinderState) -> tuple[tuple[str, str], ...]:
    """What the judgement needs and does not know: stable codes, and words."""
    told = (
        ("marks", "specification and service pressure", not state.marks.understood),
        ("water-capacity", "water capacity", state.water_capacity_kg is None),
        ("tare", "tare", state.tare_kg is None),
        ("weight", "its weight with these contents", state.net_mass_kg is None),
        (
            "retest", "the date of its last retest",
            state.dates.stamp is None and state.dates.stated_due_on is None and state.marks.refillable is not False,
        ),
    )  # fmt: skip
    return tuple((code, text) for code, text, missing in told if missing)


def _keep_text(grounds: Grounds) -> str:
    judged = grounds.state.measured
    if judged is not None and judged.disposition == DispositionCode.KEEP:
        return judged.text
    if grounds.state.assessment is not None and grounds.state.assessment.disposition != DispositionCode.KEEP:
        return f"A supervisor has released it. The last check said: {grounds.state.assessment.text}"
    return f"Keep in use for {grounds.name.text}. Check it again after the last transfer."


def _mass(mass_kg: float) -> str:
    return f"{lb_from_kg(mass_kg):.1f} lb ({mass_kg:.2f} kg)"
