"""Instants keep their moment through either database; a naive one is refused."""

from datetime import UTC, datetime, timedelta, timezone

import pytest
import sqlalchemy as sa

from service.operations.support.context import Actor, Services
from service.store import places


def test_an_instant_comes_back_aware_and_equal(any_services: Services, any_actor: Actor) -> None:
    moment = datetime(2026, 5, 4, 7, 30, 15, 123456, tzinfo=timezone(timedelta(hours=-6)))
    with any_services.database.writing(any_actor.organisation_id) as work:
        places.insert(work, name="site", kind="site", elevation_m=None, at=moment)
        place = places.by_name(work, "site")
    assert place is not None
    assert place.created_at == moment
    assert place.created_at.tzinfo is UTC


def test_a_naive_instant_is_refused(services: Services, actor: Actor) -> None:
    naive = datetime(2026, 5, 4)
    with (
        pytest.raises(sa.exc.StatementError, match="naive datetime"),
        services.database.writing(actor.organisation_id) as work,
    ):
        places.insert(work, name="site", kind="site", elevation_m=None, at=naive)
