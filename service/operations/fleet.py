"""The fleet as it is listed: found and ordered by the database, judged only as far as it is shown."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

from service.operations.support import judgements, summaries
from service.operations.support.context import Actor, Services
from service.operations.support.judgements import Judged
from service.store import cylinders as stored
from service.store import overview
from service.store.fleet import Counted, Fleet, Tile, Wanted
from service.store.summaries import Summary
from service.store.work import Work

A_PAGE = 40
"""Cards a page: under 100 kB uncompressed with causes on every card."""


A_WALL = 420
"""Tiles that one screen of 1920 by 1080 shows; of more, the quiet ones become a number per place."""


@dataclass(frozen=True, slots=True)
class Wall:
    """Every cylinder in service on one screen: tiles, the worst first, and how many there are where."""

    tiles: list[Tile]
    places: dict[str, int]
    needing: int


@dataclass(frozen=True, slots=True)
class Listing:
    """
    One page of the list.

    Parameters
    ----------
    judged
        The cylinders of this page, judged now, in the order in which they are shown.
    counted
        How many there are.
    refrigerants
        What can be asked for.
    places
        How many there are where, whatever is asked for.
    number, pages
        Which page this is, from 1, and how many there are.
    """

    judged: list[Judged]
    counted: Counted
    refrigerants: list[str]
    places: dict[str, int]
    number: int
    pages: int

    @property
    def all(self) -> int:
        """How many there are, whatever is asked for."""
        return sum(self.places.values())


def listed(services: Services, actor: Actor, wanted: Wanted, number: int = 1) -> Listing:
    """
    One page of the cylinders in service: what needs somebody first, the worst of it first, then by place.

    Causes are those noted down with each act, and once a minute for what time alone makes due. Where a cylinder
    has no summary that speaks for it, it is judged; everything that is shown is judged now.
    """
    with services.database.reading(actor.organisation_id) as work:
        fleet = Fleet(work, summaries.judged_by(services))
        believed, complete = fleet.refrigerants()
        unsaid = [] if complete else summaries.fresh(services, work)
        wanted = _with_unsaid(wanted, unsaid)
        counted = fleet.counted(wanted)
        pages = max(1, -(-counted.wanted // A_PAGE))
        number = min(max(1, number), pages)
        ids = fleet.page(wanted, A_PAGE, (number - 1) * A_PAGE)
        believed |= {name for one in unsaid for name in one.designations}
        judged = _judged(services, work, ids)
        return Listing(judged, counted, sorted(believed), fleet.places(), number, pages)


def wall(services: Services, actor: Actor) -> Wall:
    """What a screen on the wall shows; the causes that stand, not judged again."""
    with services.database.reading(actor.organisation_id) as work:
        fleet = Fleet(work, summaries.judged_by(services))
        return Wall(fleet.tiles(A_WALL), fleet.places(), fleet.counted(Wanted()).needing)


def among(services: Services, actor: Actor, wanted: Wanted, serials: Collection[str]) -> list[Judged]:
    """Those of these serials that are wanted, in service or not, judged now."""
    with services.database.reading(actor.organisation_id) as work:
        ids = overview.ids_of(work, serials)
        wanted = replace(wanted, among=ids)
        if wanted.refrigerant:
            wanted = _with_unsaid(wanted, summaries.fresh(services, work))
        chosen = Fleet(work, summaries.judged_by(services)).page(wanted, len(ids), 0)
        return _judged(services, work, chosen)


def _with_unsaid(wanted: Wanted, unsaid: Sequence[Summary]) -> Wanted:
    may_hold = [one.cylinder_id for one in unsaid if wanted.refrigerant in one.designations]
    return replace(wanted, besides=may_hold)


def _judged(services: Services, work: Work, ids: Sequence[int]) -> list[Judged]:
    place = {cylinder_id: k for k, cylinder_id in enumerate(ids)}
    rows = sorted(stored.by_ids(work, ids), key=lambda row: place[row.id])
    return judgements.of_all(services, work, rows)
