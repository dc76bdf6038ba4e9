"""Use cases for places."""

from service.operations.context import Actor, Services, tell
from service.operations.errors import Conflict, NotFound, Reason
from service.operations.events import PLACE_CHANGED
from service.store import places
from service.store.paging import Page, PageRequest
from service.store.places import Place
from service.store.work import Work


def listed(services: Services, actor: Actor, request: PageRequest) -> Page[Place]:
    """Every place."""
    with services.database.reading(actor.organisation_id) as work:
        return places.page(work, request)


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
    at = services.now()
    with services.database.writing(actor.organisation_id) as work:
        place = named(work, name)
        places.set_elevation(work, place.id, elevation_m)
        tell(
            work,
            actor,
            at,
            PLACE_CHANGED,
            f"places/{name}",
            {"change": "elevation", "elevation_m": elevation_m},
        )
        return named(work, name)


def named(work: Work, name: str) -> Place:
    """The place of that name, or ``NotFound``."""
    place = places.by_name(work, name)
    if place is None:
        raise NotFound("place", name)
    return place
