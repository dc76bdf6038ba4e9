"""The rules that decide, asked the questions of the plain ones, and the differences in words."""

from collections.abc import Iterable
from datetime import date
from random import Random
from typing import Any

from service.cylinders.judgement.advice import contradicted
from service.cylinders.judgement.judge import judge
from service.cylinders.judgement.state import Incoming
from service.cylinders.properties import Knowledge
from service.cylinders.rules import Breach
from tests.support.plain import acts
from tests.support.random_cylinders import TODAY, Cylinder, random_cylinder, random_incoming


def differences(seed: int, knowledge: Knowledge) -> list[str]:
    """What the two say differently of the random cylinder of a seed."""
    dice = Random(seed)
    cylinder, incoming = random_cylinder(dice), random_incoming(dice)
    plain, real = acts.answers(cylinder, incoming), answers(cylinder, incoming, knowledge)
    return [f"{what}: plain {_told(plain[what])}, decided {_told(real[what])}"
            for what in plain if not _same(plain[what], real[what])]  # fmt: skip


def answers(cylinder: Cylinder, incoming: Incoming, knowledge: Knowledge, on: date = TODAY) -> dict[str, Any]:
    """What the rules decide, in the table of the plain ones."""
    state = cylinder.state()
    judged = judge(state, knowledge, on=on)
    return {
        "may hold": set(judged.belief.believable),
        "hazards": {one.code for one in judged.hazards},
        "retest": str(judged.requalification.state),
        "written alone": judged.name.bare,
        "empty": judged.name.form == "empty",
        "limit [kg]": judged.filling.limit_kg,
        "overfull": judged.filling.over,
        "label is wrong": contradicted(state, judged.belief),
        "has to be moved": judged.permission.must_move,
        "forbidden": set(judged.advice.forbids),
        "against putting it in": _codes(judged.may_take(incoming).breaches),
        **{f"against {act}": _codes(permit.reasons) for act, permit in judged.permits.items()},
    }


def _codes(breaches: Iterable[Breach]) -> set[str]:
    """Their rules; the plain page knows one word for every limit on the mass."""
    codes = (breach.rule.code for breach in breaches)
    return {"too-much" if code.startswith("fill-") else code for code in codes}


def _same(one: Any, other: Any) -> bool:
    if isinstance(one, float) and isinstance(other, float):
        return abs(one - other) <= 1e-6 * max(1.0, abs(one))
    return bool(one == other)


def _told(value: Any) -> str:
    return ", ".join(sorted(value)) or "nothing" if isinstance(value, set) else str(value)
