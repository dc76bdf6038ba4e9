"""May it be filled, drawn from, carried, handed over: every rule that stands against it."""

from datetime import date
from typing import Any

from service.cylinders.judgement.belief import Content
from service.cylinders.judgement.state import Incoming
from tests.support.plain.advice import by_advice, by_date, forbidden, must_move, over, retest
from tests.support.plain.contents import (
    believable,
    believed,
    empty,
    found_air,
    hazards,
    kind,
    known,
    label_is_wrong,
    mixed_on_record,
    name_of,
    with_what_burns,
)
from tests.support.plain.limits import least_limit
from tests.support.plain.marks import against, of_marks
from tests.support.random_cylinders import TODAY, Cylinder


def may_fill(c: Cylinder, incoming: Incoming, on: date) -> set[str]:
    """Every rule that is broken when this goes in."""
    belief = believed(c)
    names = list(dict.fromkeys([*may_be(incoming), *believable(belief)]))
    held, found = 0.0 if empty(c) else c.net_kg, left_or_held(c) | by_date(c, on)
    found |= by_advice(c, belief, "in")
    found |= of_mixing(c, belief, incoming)
    after = None if held is None else held + incoming.mass_kg
    burning = with_what_burns(list(incoming.belief.contents)) if incoming.belief is not None else []
    for name in {*names, *with_what_burns(belief), *burning} if names else ():
        found |= against(c, name, found_air(c), after)
    if not names:
        found |= of_marks(c)
    least = least_limit(c, names)
    if least is not None and (held or 0.0) + incoming.mass_kg > least + 1e-9:
        found.add("too-much")
    if c.water_kg is None:
        found.add("capacity-unknown")
    return found | ({"mass-unknown"} if c.tare_kg is None or held is None else set())


def may_be(incoming: Incoming) -> list[str]:
    """What comes in by the cylinder it comes from; by its nameplate where no check speaks against that; else both."""
    plate = [incoming.designation] if incoming.designation else []
    if incoming.belief is not None:
        return believable(list(incoming.belief.contents))
    return plate if plate and not plate_is_wrong(incoming) else [*plate, *incoming.candidates]


def plate_is_wrong(incoming: Incoming) -> bool:
    return bool(
        incoming.designation and incoming.candidates and incoming.designation not in incoming.candidates
    )


def of_mixing(c: Cylinder, belief: list[Content], incoming: Incoming) -> set[str]:
    if incoming.designation is None or plate_is_wrong(incoming):
        found = {"nameplate-contradicted"} if plate_is_wrong(incoming) else set()
        found |= set() if c.evacuated else {"unknown-alone"}
        return found | (set() if may_be(incoming) else {"unknown-unmeasured"})
    if empty(c):
        before = [name for name, share in c.shares.items() if share >= 0.995 and name != "unknown"]
        another = bool(c.shares) and before != [incoming.designation]
        another = another or set(believable(belief)) - {incoming.designation} != set()
        return {"not-evacuated"} if not c.evacuated and another else set()
    first, found = belief[0] if belief else None, set()
    mixed = 0.0 if first is None else first.kinds.get("mixed", 0.0)  # type: ignore[call-overload]
    if mixed_on_record(c) and (first is None or mixed >= 0.5):
        return {"one-refrigerant"}
    only_label = len(belief) == 1 and str(belief[0].source) == "label"
    if first is None or (first.probability < 0.9 and not only_label):
        found.add("contents-unknown")
    elif first.designation != incoming.designation:
        found.add("one-refrigerant")
    if first is not None and (
        mixed > first.alone or (first.probability < 0.5 <= kind(belief, "mixed") and known(belief))
    ):
        found.add("one-refrigerant")
    return found


def left_or_held(c: Cylinder) -> set[str]:
    return ({"on-hold"} if c.holds else set()) | ({"out-of-service"} if c.standing != "in-service" else set())


def permits(c: Cylinder, on: date) -> dict[str, set[str]]:
    """What stands against each act."""
    belief = believed(c)
    gone = {"out-of-service"} if c.standing != "in-service" else set()
    out = left_or_held(c) | by_advice(c, belief, "out")
    out |= {"not-enough"} if empty(c) else set()
    carry = gone | ({"too-much"} if over(c, belief) else set())
    if must_move(c, belief):
        for name in with_what_burns(belief):
            carry |= against(c, name, found_air(c), c.net_kg) - {"non-refillable"}
    mixed = {"mixed-for-reclaim"} if kind(belief, "mixed") >= 0.5 and not empty(c) else set()
    hand_over = carry | left_or_held(c) | ({"mass-unknown"} if c.tare_kg is None else set())
    return {
        "fill": against_filling(c, belief, on), "draw-liquid": out, "draw-vapor": out, "carry": carry,
        "hand-over-for-reclaim": hand_over | mixed,
        "hand-over-for-destruction": hand_over, "relabel": gone, "requalify": gone,
        "evacuate": left_or_held(c) | ({"not-empty"} if (c.net_kg or 0.0) > 0.1 else set()),
    }  # fmt: skip


def against_filling(c: Cylinder, belief: list[Content], on: date) -> set[str]:
    """More of what is in it; into an empty one, what holds for whatever comes."""
    if belief and not empty(c):
        least = least_limit(c, believable(belief))
        full = least is not None and c.net_kg is not None and c.net_kg >= least
        return may_fill(c, Incoming(belief[0].designation, 0.0), on) | ({"too-much"} if full else set())
    found = left_or_held(c) | by_date(c, on) | of_marks(c) | by_advice(c, belief, "in")
    for name in with_what_burns(belief):
        found |= against(c, name, 0.0, None)
    found |= {"capacity-unknown"} if c.water_kg is None else set()
    return (
        found
        | ({"mass-unknown"} if c.tare_kg is None else set())
        | (set() if empty(c) else {"contents-unknown"})
    )


def answers(c: Cylinder, incoming: Incoming, on: date = TODAY) -> dict[str, Any]:
    """All of it, in one table."""
    belief, form = believed(c), name_of(c, believed(c))
    least = None if empty(c) else least_limit(c, believable(belief))
    return {
        "may hold": set(believable(belief)), "hazards": hazards(c, belief), "retest": retest(c, on),
        "written alone": form[1] if form[0] == "single" else None, "empty": form[0] == "empty",
        "limit [kg]": least, "overfull": over(c, belief), "label is wrong": label_is_wrong(c, belief),
        "has to be moved": must_move(c, belief), "forbidden": set(forbidden(c, belief).split()),
        "against putting it in": may_fill(c, incoming, on),
        **{f"against {act}": codes for act, codes in permits(c, on).items()},
    }  # fmt: skip
