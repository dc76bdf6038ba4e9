"""Use cases for unfinished forms: kept while they are typed, seen by whoever opens the same form, dropped when done."""

from collections.abc import Mapping
from typing import Any

from service.operations.support.context import Actor, Services
from service.store import drafts

LONGEST = 2000
"""More characters than this in one field are no draft [-]."""


def read(services: Services, actor: Actor, form: str) -> dict[str, Any]:
    """What was typed into a form; nothing where nobody has begun."""
    with services.database.reading(actor.organisation_id) as work:
        found = drafts.of_form(work, form)
    return {} if found is None else dict(found.document)


def keep(services: Services, actor: Actor, form: str, document: Mapping[str, Any]) -> None:
    """Keep what was typed; it takes the place of what was there."""
    kept = {name: value[:LONGEST] if isinstance(value, str) else value for name, value in document.items()}
    with services.database.writing(actor.organisation_id) as work:
        drafts.put(work, form, kept, at=services.now(), by=actor.name)


def drop(services: Services, actor: Actor, form: str) -> None:
    """Forget what was typed."""
    with services.database.writing(actor.organisation_id) as work:
        drafts.drop(work, form)
