"""Keep what the judgement says of each cylinder beside it: the judgement decides, the row is only its record."""

from collections.abc import Sequence
from datetime import datetime

from service import VERSION
from service.operations.support import judgements
from service.operations.support.context import Services
from service.operations.support.judgements import Judged
from service.store import cylinders as stored
from service.store import summaries
from service.store.summaries import Summary, between_bars
from service.store.work import Work


def judged_by(services: Services) -> str:
    """Which rules a summary was made by; one made by others counts for nothing."""
    trust = services.policy.trust
    return f"{VERSION}/{trust.label:g}/{trust.record:g}"


def summary(services: Services, judged: Judged) -> Summary:
    """What is kept of a judgement: only what time and devices do not change."""
    judgement = judged.judgement
    state, filling = judgement.state, judgement.filling
    return Summary(
        cylinder_id=judged.row.id,
        judged_by=judged_by(services),
        law=state.marks.law,
        believable=between_bars(judgement.belief.believable),
        form=judgement.name.form,
        name=judgement.name.text,
        known=state.measured is not None or state.contents.evacuated,
        weighed=state.net_mass_kg is not None,
        liquid_fraction=filling.liquid_fraction,
        limit_fraction=filling.limit_fraction,
        over=filling.over,
    )


def keep(services: Services, work: Work, judged: Sequence[Judged], at: datetime) -> None:
    """Write down what has just been judged, of cylinders that are locked in this transaction."""
    summaries.keep(work, [summary(services, one) for one in judged], at)


def fresh(services: Services, work: Work) -> list[Summary]:
    """Of every cylinder in service that no row speaks for, judged now."""
    ids = summaries.missing(work, judged_by(services))
    if not ids:
        return []
    return [summary(services, one) for one in judgements.of_all(services, work, stored.by_ids(work, ids))]
