"""Every cylinder with its judgement, as the board lists them."""

from collections.abc import Collection, Sequence

from service.cylinders.judgement.state import IN_SERVICE
from service.operations.support import judgements
from service.operations.support.context import Actor, Services
from service.operations.support.errors import NotFound
from service.operations.support.judgements import Judged
from service.store import cylinders as stored
from service.store import overview


def listed(services: Services, actor: Actor, serials: Collection[str] = ()) -> list[Judged]:
    """
    Every cylinder in service, or those of these serials whatever their standing.

    The number of statements does not depend on how many there are.
    """
    with services.database.reading(actor.organisation_id) as work:
        some = overview.ids_of(work, serials) if serials else None
        rows = stored.everything(work) if some is None else stored.by_ids(work, some)
        rows = [row for row in rows if serials or row.standing == IN_SERVICE]
        return judgements.of_all(services, work, rows)


def one(services: Services, actor: Actor, serial: str) -> Judged:
    """One cylinder, or ``NotFound``."""
    found = listed(services, actor, [serial])
    if not found:
        raise NotFound("cylinder", serial)
    return found[0]


def serials(services: Services, actor: Actor) -> Sequence[str]:
    """Every serial, for completing what somebody types."""
    with services.database.reading(actor.organisation_id) as work:
        return overview.serials(work)


def places(services: Services, actor: Actor) -> Sequence[str]:
    """Every place, by name."""
    with services.database.reading(actor.organisation_id) as work:
        return overview.place_names(work)


def unseen_alarms(services: Services, actor: Actor) -> int:
    """How many alarms stand that nobody has acknowledged."""
    with services.database.reading(actor.organisation_id) as work:
        return overview.unseen_alarms(work)
