"""What the board needs of all cylinders, for one page."""

from collections.abc import Sequence

from service.operations.support import judgements
from service.operations.support.context import Actor, Services
from service.operations.support.judgements import Judged
from service.store import overview


def one(services: Services, actor: Actor, serial: str) -> Judged:
    """One cylinder, whatever its standing, or ``NotFound``."""
    return judgements.of_serial(services, actor, serial)


def serials(services: Services, actor: Actor) -> Sequence[str]:
    """Serials last handled, for completing what somebody types."""
    with services.database.reading(actor.organisation_id) as work:
        return overview.serials(work)


def places(services: Services, actor: Actor) -> Sequence[str]:
    """Every place, by name."""
    with services.database.reading(actor.organisation_id) as work:
        return overview.place_names(work)


def waiting(services: Services, actor: Actor) -> overview.Waiting:
    """How many alarms nobody has acknowledged, and how many instructions wait."""
    with services.database.reading(actor.organisation_id) as work:
        return overview.waiting(work)
