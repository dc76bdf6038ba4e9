"""What the board needs of all cylinders, for one page."""

from collections.abc import Sequence

from service.operations import judgements
from service.operations.context import Actor, Services
from service.operations.judgements import Judged
from service.store import rack


def one(services: Services, actor: Actor, serial: str) -> Judged:
    """One cylinder, whatever its standing, or ``NotFound``."""
    return judgements.of_serial(services, actor, serial)


def serials(services: Services, actor: Actor) -> Sequence[str]:
    """Every serial, for completing what somebody types."""
    with services.database.reading(actor.organisation_id) as work:
        return rack.serials(work)


def places(services: Services, actor: Actor) -> Sequence[str]:
    """Every place, by name."""
    with services.database.reading(actor.organisation_id) as work:
        return rack.place_names(work)


def unseen_alarms(services: Services, actor: Actor) -> int:
    """How many alarms stand that nobody has acknowledged."""
    with services.database.reading(actor.organisation_id) as work:
        return rack.unseen_alarms(work)
