"""Pages continue after the last id seen, whatever comes and goes between."""

import pytest

from service.operations.support.context import Actor, Services
from service.store import places
from service.store.paging import PageRequest
from service.store.tables import places as place_table


def test_every_row_comes_once(any_services: Services, any_actor: Actor) -> None:
    database, owner = any_services.database, any_actor.organisation_id
    with database.writing(owner) as work:
        for number in range(7):
            places.insert(work, name=f"van-{number}", kind="van", elevation_m=None, at=any_services.now())
    names: list[str] = []
    after = None
    while True:
        with database.writing(owner) as work:
            page = places.page(work, PageRequest(3, after))
            work.delete(place_table, place_table.c.name == "shop")
        names += [place.name for place in page.items]
        if page.next is None:
            break
        after = page.next
    assert names == ["shop", *(f"van-{number}" for number in range(7))]


@pytest.mark.parametrize(("limit", "more"), [(1, True), (6, True), (7, False), (8, False)])
def test_next_is_told_only_where_there_is_more(
    services: Services, actor: Actor, limit: int, more: bool
) -> None:
    with services.database.writing(actor.organisation_id) as work:
        for number in range(6):
            places.insert(work, name=str(number), kind="van", elevation_m=None, at=services.now())
        page = places.page(work, PageRequest(limit))
    assert len(page.items) == min(7, limit)
    assert (page.next is not None) == more
