"""
Use cases for readings that come over HTTP: kept first, then fetched by the worker in the order in which they came.

They are kept in a table and not published to the broker: a broker's acknowledgement does not promise that a message
is on its disk, and the answer 202 has to. The worker lets go of a message only when it is in the worker's own file, so
that either side may die at any moment; what it fetches twice has the same stamps and is dropped as repeated.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from service.mappings.mapping import LEVEL, parse
from service.operations.places import named
from service.operations.support.context import Actor, Services
from service.operations.support.errors import FieldError, Invalid, NotAllowed, NotFound, Unavailable
from service.store import mappings, messages
from service.store.messages import Message
from service.store.work import Work

GATEWAY = "gateway"
"""The device of a message that speaks for several, and the scope of a token that does nothing but post readings."""
MOST_WAITING = 50_000
"""So many wait for a worker that is away; what comes then is refused for the sender to keep, not dropped here."""
RETRY_AFTER_S = 60


@dataclass(frozen=True, slots=True)
class NewMessage:
    """
    Readings as they were posted.

    Parameters
    ----------
    payload
        The body.
    place, device
        Where and from what; a token of one place or device need not say.
    mapping
        The mapping that reads it; none for SenML.
    """

    payload: bytes
    place: str | None = None
    device: str | None = None
    mapping: str | None = None


def take(services: Services, actor: Actor, new: NewMessage) -> int:
    """
    Keep readings for the worker; answers their number.

    Raises
    ------
    NotFound
        When the place or the mapping is unknown.
    Invalid
        When no place is named, or the body is empty.
    NotAllowed
        When the token is another place's or device's.
    Unavailable
        When too many wait.
    """
    place, device = _place(actor, new.place), _device(actor, new.device)
    if place is None:
        raise Invalid(FieldError("place", None, "the place that the readings are from"))
    if not new.payload:
        raise Invalid(FieldError("body", "", "readings"))
    with services.database.writing(actor.organisation_id) as work:
        named(work, place)
        topic = None if new.mapping is None else _topic(work, new.mapping, place, device)
        if messages.waiting(work) >= MOST_WAITING:
            raise Unavailable(
                "Too many readings wait for the worker; keep these and send them again.", RETRY_AFTER_S
            )
        return messages.insert(
            work,
            place=place,
            device=device or GATEWAY,
            topic=topic,
            mapping=new.mapping,
            payload=new.payload,
            received_at=services.now(),
            posted_by=actor.name,
        )


def waiting(services: Services, actor: Actor, places: Sequence[str], limit: int) -> list[Message]:
    """What came first of some places, or of all; it stays until the worker lets go of it."""
    with services.database.reading(actor.organisation_id) as work:
        return messages.oldest(work, places, limit)


def let_go(services: Services, actor: Actor, numbers: Sequence[int]) -> None:
    """The worker has these in its own file."""
    with services.database.writing(actor.organisation_id) as work:
        messages.drop(work, numbers)


def _place(actor: Actor, given: str | None) -> str | None:
    """Where they are from; a token of one place need not say."""
    bound = actor.places
    if bound is not None and given is not None and given not in bound:
        raise NotAllowed(f"This token posts readings of {', '.join(sorted(bound))} alone.")
    return next(iter(bound)) if given is None and bound is not None and len(bound) == 1 else given


def _device(actor: Actor, given: str | None) -> str | None:
    if actor.device is not None and given not in (None, actor.device):
        raise NotAllowed(f"This token posts readings of the device {actor.device} alone.")
    return actor.device or given


def _topic(work: Work, name: str, place: str, device: str | None) -> str:
    """Where a message of this mapping would have been published."""
    stored = mappings.by_name(work, name)
    if stored is None or stored.document is None:
        raise NotFound("mapping", name)
    said = {"place": place, "device": device or GATEWAY}
    levels = parse(stored.document).levels
    names = [(level, LEVEL(level)) for level in levels]
    return "/".join(level if found is None else said.get(found[1], "any") for level, found in names)
