"""The top of a cylinder's page: may it be filled, how much more, where to stop, and what stands against it."""

from collections.abc import Sequence
from dataclasses import dataclass

from service.board import phrases
from service.board.quantities import Quantities
from service.board.views import cards
from service.board.views.rack import Need
from service.cylinders.judgement.causes import Kind
from service.cylinders.judgement.judge import Judgement
from service.cylinders.judgement.permits import Act

ACTS = {
    Act.FILL: "Put more in",
    Act.DRAW_LIQUID: "Take liquid out",
    Act.DRAW_VAPOR: "Take vapor out",
    Act.CARRY: "Carry it in a vehicle",
    Act.RECLAIM: "Hand it over for reclaim",
    Act.DESTRUCTION: "Hand it over for destruction",
    Act.EVACUATE: "Evacuate it",
    Act.RELABEL: "Relabel it",
    Act.REQUALIFY: "Retest it",
}


@dataclass(frozen=True, slots=True)
class Answer:
    """What the judgement says about filling, and the one next thing to do.

    Parameters
    ----------
    glyph, filling : str
        May it be filled, in a few words.
    why : str
        The first reason against it, or how much more may go in.
    stop : str
        Gross weight at which filling stops; empty where nothing may go in or nobody can tell.
    level : str
        How full it is and may be.
    next : str
        The advice.
    """

    glyph: str
    filling: str
    why: str
    stop: str
    level: str
    next: str


@dataclass(frozen=True, slots=True)
class Task:
    """A button: its words, its page's name and address."""

    text: str
    name: str
    url: str

    @property
    def fills(self) -> bool:
        """Whether something goes in by it, up to a weight."""
        return self.name in {"transfer", "fill_page"}


def answer(judgement: Judgement, show: Quantities) -> Answer:
    """Write the answer in a person's units."""
    stop_kg, permit = judgement.stop_gross_kg, judgement.permits[Act.FILL]
    stop = "" if stop_kg is None else show.mass_below(stop_kg)
    level, advice = _level(judgement, show), judgement.advice.text
    if permit.allowed:
        return Answer("clear", "May be filled", _room(judgement, show), stop, level, advice)
    # The advice stands right below; as a reason it would be read twice.
    against = [reason.rule.text for reason in permit.reasons if reason.detail != advice]
    why = _over(judgement, show) or (against[0] if against else "")
    return Answer("danger", "Do not fill", why, "", level, advice)


def unsaid(needs: Sequence[Need], said: Answer) -> tuple[Need, ...]:
    """Leave out what the answer says already: nobody reads the same sentence twice to find what is new in it."""
    return tuple(
        need
        for need in needs
        if need.code != Kind.OVERFULL and need.text.split(": ", 1)[-1].rstrip(".") not in said.next
    )


def _over(judgement: Judgement, show: Quantities) -> str:
    net_kg, limit_kg = judgement.filling.net_mass_kg, judgement.filling.limit_kg
    if judgement.belief.is_empty or net_kg is None or limit_kg is None or net_kg <= limit_kg:
        return ""
    return f"It is overfull by {show.mass(net_kg - limit_kg)}."


def _room(judgement: Judgement, show: Quantities) -> str:
    if judgement.room_kg is not None:
        return f"There is room for {show.mass(judgement.room_kg)}."
    if judgement.belief.is_empty:
        return "The limit follows from what goes in: the check before the fill tells it."
    return ""


def _level(judgement: Judgement, show: Quantities) -> str:
    """Say how much is in it, and how much it may hold."""
    filling = judgement.filling
    if judgement.belief.is_empty:
        return ""
    if filling.net_mass_kg is None:
        return "It was not weighed with these contents."
    holds = f"It holds {show.mass(filling.net_mass_kg)}"
    limit = f"; the limit is {show.mass(filling.limit_kg)}" if filling.limit_kg is not None else ""
    if filling.liquid_fraction is None:
        return f"{holds}{limit}."
    return f"{phrases.sentence_case(cards.fill(filling).words)}. {holds}{limit}."


def not_allowed(judgement: Judgement) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """List the acts that are not allowed, each with every reason."""
    return tuple(
        (ACTS[act], tuple(f"{reason.rule.text} ({reason.detail})" for reason in permit.reasons))
        for act, permit in judgement.permits.items()
        if not permit.allowed
    )
