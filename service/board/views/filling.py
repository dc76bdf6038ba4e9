"""A fill on a live scale as a technician reads it: where to stop, what the scale shows, how much is left."""

from collections.abc import Sequence
from dataclasses import dataclass

from service.board.quantities import Quantities
from service.board.views.recovery import CALLS, WHAT_TO_DO, share_of
from service.cylinders import recovery as pure
from service.cylinders.judgement.causes import Cause
from service.cylinders.recovery import HOW_TO_STOP
from service.operations.support.weights import AGREE_KG


@dataclass(frozen=True, slots=True)
class Filling:
    """
    The call, and the weights in a person's unit.

    Parameters
    ----------
    glyph, word, do
        The call, and what the hand does.
    stop_at, now, left, filled
        Gross weight to stop at, on the scale now, between the two, and put in so far; empty while no scale is heard.
    share
        How much of the way to the stop is done, from 0 to 100 [%].
    causes
        What else says stop, in words.
    """

    glyph: str
    word: str
    do: str
    stop_at: str
    now: str
    left: str
    filled: str
    share: int
    causes: tuple[str, ...]


def filling(
    gross_kg: float | None,
    before_kg: float,
    target_kg: float,
    phase: str,
    attention: Sequence[Cause],
    show: Quantities,
) -> Filling:
    """Word a fill that goes on; masses [kg], gross."""
    call = pure.call(gross_kg, target_kg, rate_kg_s=None, method=phase, causes=attention)
    glyph, word = CALLS[call.state]
    do = WHAT_TO_DO[call.state]
    if call.state in ("stop", "soon"):
        do = f"{do} {HOW_TO_STOP[phase]}".strip()
    now = left = filled = ""
    share = share_of(gross_kg, before_kg, call.stop_at_kg)
    if gross_kg is not None:
        now, left = show.mass(gross_kg), show.mass_below(max(0.0, call.stop_at_kg - gross_kg))
        filled = show.mass(max(0.0, gross_kg - before_kg))
    return Filling(glyph, word, do, show.mass_below(call.stop_at_kg), now, left, filled, share, call.causes)


def apart(recorded_kg: float | None, shown_kg: float, show: Quantities) -> str:
    """Say where record and scale differ before anything goes in; empty where they agree, or nothing is recorded."""
    if recorded_kg is None or abs(recorded_kg - shown_kg) <= AGREE_KG:
        return ""
    return (
        f"The record says {show.mass(recorded_kg)} gross, the scale showed {show.mass(shown_kg)}."
        " The difference is not part of this fill."
    )
