"""Which cylinders could take a mass of a refrigerant now, best first, and for every other one the reason."""

from collections.abc import Iterable
from dataclasses import dataclass

from service.cylinders.judgement.guard import Check
from service.cylinders.judgement.judge import Judgement
from service.cylinders.judgement.state import Incoming


@dataclass(frozen=True, slots=True)
class Suitability:
    """One cylinder's answer; ``why`` says in words why it is first, later, or out."""

    serial: str
    check: Check
    same_refrigerant: bool
    why: str


def rank(judgements: Iterable[Judgement], incoming: Incoming) -> tuple[list[Suitability], list[Suitability]]:
    """Cylinders that may take it, best first, and those that may not.

    Best is a cylinder that holds the same refrigerant already and has the least room to spare (it gets full
    and can be exchanged); after those the evacuated ones, the smallest that suffices first.
    """
    found = [_suitability(judgement, incoming) for judgement in judgements]
    fit = sorted((one for one in found if one.check.allowed), key=_order)
    unfit = sorted(
        (one for one in found if not one.check.allowed),
        key=lambda one: (len(one.check.breaches), one.serial),
    )
    return fit, unfit


def _suitability(judgement: Judgement, incoming: Incoming) -> Suitability:
    check = judgement.may_take(incoming)
    first = judgement.belief.first
    same = not judgement.belief.is_empty and first is not None and first.designation == incoming.designation
    if not check.allowed:
        why = "; ".join(f"{breach.rule.text} ({breach.detail})" for breach in check.breaches)
    elif same:
        why = f"holds {incoming.designation} and has {check.remaining_kg or 0.0:.1f} kg of room"
    else:
        why = f"{judgement.name.ground}, and has {check.remaining_kg or 0.0:.1f} kg of room"
    return Suitability(judgement.state.serial, check, same, why)


def _order(one: Suitability) -> tuple[bool, float, str]:
    return (not one.same_refrigerant, one.check.remaining_kg or 0.0, one.serial)
