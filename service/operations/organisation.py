"""Use cases for the organisation's own settings."""

from service.codes import UnitSystem
from service.cylinders.books import BOOKS
from service.operations.support import calendar
from service.operations.support.context import Actor, Services, tell
from service.operations.support.errors import FieldError, Invalid
from service.operations.support.events import ORGANISATION_CHANGED
from service.store import organisations
from service.store.organisations import Organisation
from service.store.work import Work

UNITS: tuple[str, ...] = tuple(UnitSystem)


def read(services: Services, actor: Actor) -> Organisation:
    """The organisation of whoever asks."""
    with services.database.reading(actor.organisation_id) as work:
        return _own(work)


def change(
    services: Services,
    actor: Actor,
    *,
    time_zone: str | None = None,
    units: str | None = None,
    rule_book: str | None = None,
) -> Organisation:
    """
    Change the time zone by which days are counted, the units of paper, the law of its places; None leaves it.

    Raises
    ------
    Invalid
        When there is no such time zone, unit system or rule book.
    """
    at = services.now()
    if units is not None and units not in UNITS:
        raise Invalid(FieldError("units", units, f"one of {', '.join(UNITS)}"))
    if rule_book is not None and rule_book not in BOOKS:
        raise Invalid(FieldError("rule_book", rule_book, f"one of {', '.join(BOOKS)}"))
    given = {
        "time_zone": time_zone and calendar.known_zone(time_zone),
        "units": units,
        "rule_book": rule_book,
    }
    columns = {name: value for name, value in given.items() if value is not None}
    with services.database.writing(actor.organisation_id) as work:
        if columns:
            organisations.change(work, **columns)
            tell(work, actor, at, ORGANISATION_CHANGED, "organisation", columns)
        return _own(work)


def _own(work: Work) -> Organisation:
    found = organisations.by_id(work.connection, work.organisation_id)
    if found is None:
        raise LookupError(f"organisation {work.organisation_id}")
    return found
