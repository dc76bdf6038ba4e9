"""Use cases for instructions: pin one to a cylinder, answer it, see what waits."""

from service.operations.support.context import Actor, Services, tell
from service.operations.support.errors import Conflict, NotFound, Reason
from service.operations.support.events import CYLINDER_CHANGED
from service.operations.support.lookup import by_serial
from service.store import instructions
from service.store.instructions import Instruction
from service.store.paging import Page, PageRequest
from service.store.work import Work


def pin(services: Services, actor: Actor, serial: str, text: str) -> Instruction:
    """
    Pin an instruction or a question to a cylinder, for whoever is there next.

    Raises
    ------
    NotFound
        When there is no such cylinder.
    """
    at = services.now()
    with services.database.writing(actor.organisation_id) as work:
        cylinder = by_serial(work, serial)
        pinned = instructions.insert(work, cylinder_id=cylinder.id, text=text, at=at, by=actor.name)
        told = {"change": "instructed", "cylinder": serial, "instruction": pinned, "text": text}
        tell(work, actor, at, CYLINDER_CHANGED, f"cylinders/{serial}", told)
        return by_id(work, pinned)


def finish(services: Services, actor: Actor, instruction_id: int, answer: str | None = None) -> Instruction:
    """
    Tick one off, with an answer where it was a question.

    Raises
    ------
    Conflict
        When somebody has ticked it off already.
    NotFound
        When there is no such instruction.
    """
    at = services.now()
    with services.database.writing(actor.organisation_id) as work:
        serial = by_id(work, instruction_id).cylinder
        by_serial(work, serial, lock=True)
        if (done := by_id(work, instruction_id)).done_at is not None:
            raise Conflict([Reason("instruction-done", f"{done.done_by} has done this already.")])
        instructions.finish(work, instruction_id, at=at, by=actor.name, answer=answer)
        told = {
            "change": "instruction-done",
            "cylinder": serial,
            "instruction": instruction_id,
            "text": answer,
        }
        tell(work, actor, at, CYLINDER_CHANGED, f"cylinders/{serial}", told)
        return by_id(work, instruction_id)


def listed(
    services: Services, actor: Actor, request: PageRequest, *, serial: str | None, open_only: bool
) -> Page[Instruction]:
    """Instructions, newest first."""
    with services.database.reading(actor.organisation_id) as work:
        return instructions.page(work, request, serial=serial, open_only=open_only)


def by_id(work: Work, instruction_id: int) -> Instruction:
    """The instruction of that id, or ``NotFound``."""
    found = instructions.by_id(work, instruction_id)
    if found is None:
        raise NotFound("instruction", instruction_id)
    return found
