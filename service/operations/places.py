"""Use cases for places."""

from typing import TypedDict

from service.cylinders.books import BOOKS
from service.operations.support.context import Actor, Services, tell
from service.operations.support.errors import Conflict, FieldError, Invalid, NotFound, Reason
from service.operations.support.events import PLACE_CHANGED
from service.store import places
from service.store.paging import Page, PageRequest
from service.store.places import Place
from service.store.work import Work


class PlaceChange(TypedDict, total=False):
    """What may be corrected of a place [m]; what is left out stays."""

    elevation_m: float | None
    rule_book: str | None


def listed(services: Services, actor: Actor, request: PageRequest) -> Page[Place]:
    """Every place that the actor may see."""
    with services.database.reading(actor.organisation_id) as work:
        return places.page(work, request, names=actor.places)


def create(services: Services, actor: Actor, *, name: str, kind: str, elevation_m: float | None) -> Place:
    """
    A new shop, van or site.

    Raises
    ------
    Conflict
        When the name is taken.
    """
    at = services.now()
    with services.database.writing(actor.organisation_id) as work:
        if places.by_name(work, name) is not None:
            raise Conflict([Reason("place-exists", f"There is a place {name} already.")])
        place = places.insert(work, name=name, kind=kind, elevation_m=elevation_m, at=at)
        tell(
            work,
            actor,
            at,
            PLACE_CHANGED,
            f"places/{name}",
            {"change": "created", "elevation_m": elevation_m},
        )
        return place


def set_elevation(services: Services, actor: Actor, name: str, elevation_m: float | None) -> Place:
    """Correct a place's elevation; pairs already stored keep the atmosphere that they were converted with."""
    return _change(services, actor, name, elevation_m=elevation_m)


def set_rule_book(services: Services, actor: Actor, name: str, rule_book: str | None) -> Place:
    """
    Choose the law of a place; None is the organisation's.

    Raises
    ------
    Invalid
        When there is no such rule book.
    """
    if rule_book is not None and rule_book not in BOOKS:
        raise Invalid(FieldError("rule_book", rule_book, f"one of {', '.join(BOOKS)}"))
    return _change(services, actor, name, rule_book=rule_book)


def change(services: Services, actor: Actor, name: str, changes: PlaceChange) -> Place:
    """Correct the elevation, choose the law, or both; what is left out stays."""
    with services.database.writing(actor.organisation_id) as work:
        if "elevation_m" in changes:
            set_elevation(services, actor, name, changes["elevation_m"])
        if "rule_book" in changes:
            set_rule_book(services, actor, name, changes["rule_book"])
        return named(work, name)


def law_of(work: Work, place_rule_book: str | None) -> str:
    """The rule book that holds at a place: its own, else the organisation's."""
    return place_rule_book or work.rule_book


def _change(services: Services, actor: Actor, name: str, **columns: float | str | None) -> Place:
    at = services.now()
    with services.database.writing(actor.organisation_id) as work:
        place = named(work, name)
        places.change(work, place.id, **columns)
        told = {"change": next(iter(columns)).removesuffix("_m"), **columns}
        tell(work, actor, at, PLACE_CHANGED, f"places/{name}", told)
        return named(work, name)


def named(work: Work, name: str) -> Place:
    """The place of that name, or ``NotFound``."""
    place = places.by_name(work, name)
    if place is None:
        raise NotFound("place", name)
    return place
