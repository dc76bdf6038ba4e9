"""A laboratory's result is evidence of the contents that it was taken from."""

from datetime import datetime
from typing import Final

from service.cylinders.judgement.belief import Belief, Content, Kind, Source
from service.operations import verdicts
from service.operations.checks import designation_of
from service.operations.support import beliefs, judgements
from service.operations.support.beliefs import Kept
from service.operations.support.context import Actor, Services
from service.operations.support.lookup import by_serial
from service.store import cylinders as stored
from service.store.cylinders import Cylinder
from service.store.work import Work

TRUST: Final = 0.98
"""How far a laboratory's result is believed to belong to this cylinder (a judgement) [-]."""
OTHERS_ALLOWED_PERCENT: Final = 0.5
"""Other refrigerants that the reclaim standard allows (40 CFR 82 subpart F App. A1) [% by mass]."""


def take(
    services: Services,
    work: Work,
    actor: Actor,
    cylinder: Cylinder,
    designation: str | None,
    others_percent: float | None,
    at: datetime,
    since: datetime,
) -> None:
    """Believe a result that names a refrigerant, and judge the readings of these contents again with it."""
    name = designation_of(services, designation, "designation")
    epoch = stored.epoch_of(work, cylinder, cylinder.epoch)
    if name is None or since < epoch.started_at:
        return
    kind = (
        Kind.MIXED if others_percent is not None and others_percent > OTHERS_ALLOWED_PERCENT else Kind.CLEAN
    )
    found = Belief((Content(name, {kind: TRUST}, {}, Source.ANALYSIS),))
    kept = Kept(claims=beliefs.kept(cylinder, epoch).claims, carried=found)
    stored.set_contents(work, cylinder, beliefs.with_kept(epoch.contents or {}, kept))
    verdict = verdicts.reach(services, work, at, cylinder, cylinder.epoch, None)
    judged = judgements.of(services, work, by_serial(work, cylinder.serial))
    verdicts.announce(work, actor, at, judged, verdict)
