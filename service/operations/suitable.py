"""Which cylinders could take a mass of a refrigerant now."""

from dataclasses import dataclass

from service.codes import Standing
from service.cylinders.judgement.state import Incoming
from service.cylinders.suitable import Suitability, rank
from service.operations import places
from service.operations.support import judgements
from service.operations.support.context import Actor, Services
from service.store import cylinders as stored
from service.store.cylinders import Cylinder


@dataclass(frozen=True, slots=True)
class Found:
    """A cylinder with its answer."""

    cylinder: Cylinder
    answer: Suitability


def suitable(
    services: Services, actor: Actor, incoming: Incoming, *, place: str | None
) -> tuple[list[Found], list[Found]]:
    """Cylinders that could take it, best first, and those that could not, each with its reasons."""
    with services.database.reading(actor.organisation_id) as work:
        if place is not None:
            places.named(work, place)
        rows = [row for row in stored.everything(work, place=place) if row.standing == Standing.IN_SERVICE]
        judged = judgements.of_all(services, work, rows)
    fit, unfit = rank((one.judgement for one in judged), incoming)
    by_serial = {row.serial: row for row in rows}

    def found(answers: list[Suitability]) -> list[Found]:
        return [Found(by_serial[answer.serial], answer) for answer in answers]

    return found(fit), found(unfit)
