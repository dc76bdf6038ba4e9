"""What a phone is told of a cylinder, so that it can judge a transfer where there is no coverage."""

import math
from collections.abc import Callable, Iterable, Iterator
from typing import TypedDict

from service.board.quantities import Quantities
from service.cylinders.judgement.judge import Judgement
from service.cylinders.judgement.permits import Act
from service.cylinders.judgement.state import Incoming

WAYS = {"in": Act.FILL, "out-liquid": Act.DRAW_LIQUID, "out-vapour": Act.DRAW_VAPOR}


class LastKnown(TypedDict):
    """What may go in, by designation, and how much; what it holds; and what forbids each way.

    Masses are in the person's unit; ``fill_until`` is the last day of the retest, as an ISO date.
    """

    room: dict[str, float]
    net: float | None
    fill_until: str | None
    against: dict[str, list[str]]


def last_known(
    judgement: Judgement, designations: Iterable[str], show: Quantities, say: Callable[[str], str]
) -> LastKnown:
    """Tell what the judgement allows; the reasons in the person's language."""
    net, due = judgement.state.net_mass_kg, judgement.requalification.due_on
    return {
        "room": dict(_rooms(judgement, designations, show)),
        "net": None if net is None else round(show.mass_value(net), 2),
        "fill_until": None if due is None else due.isoformat(),
        "against": {
            way: [say(f"{one.rule.text} ({one.detail})") for one in judgement.permits[act].reasons]
            for way, act in WAYS.items()
        },
    }


def _rooms(
    judgement: Judgement, designations: Iterable[str], show: Quantities
) -> Iterator[tuple[str, float]]:
    """Room for what may go in, never rounded up: into an empty one anything that its marks bear, else the same."""
    first = judgement.belief.first
    if not judgement.permits[Act.FILL].allowed:
        return
    named = designations if judgement.belief.is_empty or first is None else (first.designation,)
    for name in named:
        check = judgement.may_take(Incoming(name, 0.0))
        if check.allowed and check.remaining_kg:
            yield name, math.floor(show.mass_value(check.remaining_kg) * 100.0) / 100.0
