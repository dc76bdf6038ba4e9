"""Use case for releases: a supervisor decides that an advice no longer binds, for the present contents."""

from service.operations.support import judgements
from service.operations.support.attention import review
from service.operations.support.context import Actor, Services, tell
from service.operations.support.errors import Conflict, Reason
from service.operations.support.events import CYLINDER_CHANGED
from service.operations.support.judgements import Judged
from service.operations.support.lookup import by_serial
from service.store import releases


def release_advice(services: Services, actor: Actor, serial: str, reason: str) -> Judged:
    """
    Release the advice that a cylinder stands under, with the reason; new contents are not released.

    Raises
    ------
    Conflict
        When it forbids nothing, or when nobody may release it.
    NotFound
        When the cylinder is unknown.
    """
    with services.database.writing(actor.organisation_id) as work:
        cylinder = by_serial(work, serial, lock=True)
        at = services.now()
        advice = judgements.of(services, work, cylinder).judgement.advice
        if not advice.forbids:
            raise Conflict(
                [Reason("nothing-forbidden", "Its advice forbids nothing: there is nothing to release.")]
            )
        if advice.release_code is None:
            raise Conflict([Reason("not-releasable", f"Nobody can release this: {advice.text}")])
        releases.insert(
            work, cylinder_id=cylinder.id, epoch=cylinder.epoch, code=advice.release_code, reason=reason, at=at,
            by=actor.name,
        )  # fmt: skip
        told = {
            "change": "advice-released",
            "cylinder": serial,
            "code": advice.release_code,
            "reason": reason,
        }
        tell(work, actor, at, CYLINDER_CHANGED, f"cylinders/{serial}", {**told, "advice": advice.text})
        review(services, work, actor, at, [cylinder.id])
        return judgements.of(services, work, cylinder)
