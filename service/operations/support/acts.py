"""What an act makes of what was believed, as the epoch that it begins keeps it."""

from service.cylinders.contents import UNKNOWN, Contents
from service.cylinders.judgement import belief
from service.cylinders.judgement.belief import Belief, Source
from service.cylinders.judgement.judge import Judgement
from service.cylinders.judgement.state import Incoming
from service.operations.support.beliefs import NOTHING_KEPT, Kept, after_act


def put_in(before: Judgement, incoming: Incoming) -> Kept:
    """After something went in: a record alone says it all where nothing else was ever believed."""
    coming = incoming.believed(before.state.trust)
    poured = belief.poured(
        before.belief, coming, held_kg=before.state.net_mass_kg, incoming_kg=incoming.mass_kg
    )
    assessment = None if poured is coming else after_act(before.state.assessment, poured)
    if assessment is None and _recorded(poured):
        return NOTHING_KEPT
    return Kept(carried=poured, assessment=assessment)


def drawn_off(before: Judgement, contents: Contents, *, as_vapour: bool) -> Kept:
    """After something came out and the present readings no longer speak."""
    left = belief.carried(before.belief)
    if as_vapour:
        lost = contents.vapour_lost_fraction
        left = belief.vapour_drawn(before.belief, lost, before.knowledge.has_glide)
    if not left.contents:
        return Kept(claims=before.state.claims)
    return Kept(carried=left, assessment=after_act(before.state.assessment, left))


def new_composition(before: Judgement) -> bool:
    """Whether vapor drawn off leaves another composition behind, by anything that it may be."""
    return any(before.knowledge.has_glide(name) for name in before.belief.believable)


def recorded_as(judgement: Judgement) -> tuple[str | None, dict[str, float]]:
    """Under which designation, and in which shares by mass, records take what a cylinder holds."""
    contents = judgement.state.contents
    if contents.is_mixed:
        return None, dict(contents.shares)
    name = judgement.name
    if name.form == "mixed" or name.designation is None:
        return None, {UNKNOWN: 1.0}
    return name.designation, {name.designation: 1.0}


def _recorded(what: Belief) -> bool:
    return (
        len(what.contents) == 1 and what.contents[0].source is Source.RECORD and what.contents[0].alone > 0.5
    )
