"""Use cases for the audit log, which is the events table read backwards."""

from dataclasses import dataclass
from datetime import datetime

from service.operations.support.context import Actor, Services
from service.operations.support.events import CYLINDER_STATE
from service.store import events
from service.store.events import Event
from service.store.paging import Page, PageRequest


@dataclass(frozen=True, slots=True)
class Filter:
    """What to look for; everything that is not stated matches."""

    actor: str | None = None
    subject: str | None = None
    type: str | None = None
    start: datetime | None = None
    end: datetime | None = None


def listed(services: Services, actor: Actor, request: PageRequest, wanted: Filter) -> Page[Event]:
    """Entries, newest first."""
    with services.database.reading(actor.organisation_id) as work:
        return events.page(
            work,
            request,
            start=wanted.start,
            end=wanted.end,
            # It says how things stand after an act that has its own entry.
            without=() if wanted.type else (CYLINDER_STATE,),
            actor=wanted.actor,
            subject=wanted.subject,
            type=wanted.type,
        )
