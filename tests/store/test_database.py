"""A unit of work commits whole with its events, or leaves nothing; readers of events miss none."""

import threading
import time

import psycopg
import pytest
import sqlalchemy as sa

from service import cli
from service.operations.support.context import Actor, Services
from service.store import events, migrate, places
from service.store.database import Database
from service.store.tables import metadata
from service.store.tables import places as place_table
from service.store.work import NewEvent, Work
from tests.support.clock import Clock
from tests.support.postgres import postgres_server


def happened(work: Work, clock: Clock, what: str) -> None:
    work.record(NewEvent(clock(), what, "places/x", "token:test", {}))


def run(threads: list[threading.Thread]) -> None:
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()


def test_what_raises_leaves_nothing_behind(any_services: Services, any_actor: Actor, clock: Clock) -> None:
    database, owner = any_services.database, any_actor.organisation_id
    with pytest.raises(RuntimeError), database.writing(owner) as work:
        places.insert(work, name="gone", kind="van", elevation_m=None, at=clock())
        happened(work, clock, "test.gone")
        raise RuntimeError
    with database.reading(owner) as work:
        assert places.by_name(work, "gone") is None
        assert "test.gone" not in {event.type for event in events.since(work, 0)}


def test_an_inner_block_joins_the_outer_transaction(services: Services, actor: Actor, clock: Clock) -> None:
    database, owner = services.database, actor.organisation_id
    with pytest.raises(RuntimeError), database.writing(owner):
        with database.writing(owner) as inner:
            places.insert(inner, name="inner", kind="van", elevation_m=None, at=clock())
        with database.reading(owner) as reader:
            assert places.by_name(reader, "inner") is not None
        raise RuntimeError
    with database.reading(owner) as work:
        assert places.by_name(work, "inner") is None


@pytest.mark.postgres
def test_a_database_that_cannot_hold_every_text_is_refused_in_a_sentence(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    with postgres_server() as server:
        with psycopg.connect(server.fresh_url(), autocommit=True) as connection:
            connection.execute(
                "CREATE DATABASE plain ENCODING 'SQL_ASCII' LC_COLLATE 'C' LC_CTYPE 'C' TEMPLATE template0"
            )
        url = sa.make_url(server.fresh_url()).set(database="plain").render_as_string(hide_password=False)
        monkeypatch.setenv("HEELMARK_DATABASE_URL", url)
        monkeypatch.setattr("sys.argv", ["heelmark", "migrate"])
        with pytest.raises(SystemExit) as ended:
            cli.main()
        said = capsys.readouterr().err
        started = time.monotonic()
        with pytest.raises(sa.exc.OperationalError):
            migrate.wait_for(url, within_s=60.0)
        assert time.monotonic() - started < 30.0, "waiting makes it no better"
    assert ended.value.code == 1
    assert said.count("\n") == 1 and "its encoding is SQL_ASCII, expected UTF8" in said


def test_one_owner_sees_nothing_of_another(any_services: Services, any_actor: Actor, clock: Clock) -> None:
    database, mine = any_services.database, any_actor.organisation_id
    with database.writing(mine + 1000) as stranger:
        assert places.by_name(stranger, "shop") is None
        assert stranger.update(place_table, place_table.c.name == "shop", kind="van") == 0
        assert stranger.delete(place_table, place_table.c.name == "shop") == 0
    with database.reading(mine) as work:
        assert places.by_name(work, "shop") is not None


def test_every_table_but_organisations_has_its_owner() -> None:
    unowned = {table.name for table in metadata.tables.values() if "organisation_id" not in table.c}
    assert unowned == {"organisations", "heartbeats"}


def test_a_reader_that_follows_ids_misses_no_event(
    any_services: Services, any_actor: Actor, clock: Clock
) -> None:
    database, owner = any_services.database, any_actor.organisation_id
    writers, each = 6, 15
    finished = threading.Event()
    seen: list[int] = []

    def write(name: int) -> None:
        for turn in range(each):
            with database.writing(owner) as work:
                happened(work, clock, f"test.{name}.{turn}")

    def follow() -> None:
        done = False
        while not done:
            done = finished.is_set()
            with database.reading(owner) as work:
                seen.extend(event.id for event in events.since(work, seen[-1] if seen else 0))

    threads = [threading.Thread(target=write, args=(name,)) for name in range(writers)]
    reader = threading.Thread(target=follow)
    reader.start()
    run(threads)
    finished.set()
    reader.join()
    with database.reading(owner) as work:
        committed = [event.id for event in events.since(work, 0)]
    assert seen == committed
    assert len(seen) == writers * each + 1


def test_sqlite_writers_queue_instead_of_failing(
    services: Services, actor: Actor, database: Database
) -> None:
    with database.engine.connect() as connection:
        assert connection.execute(sa.text("PRAGMA journal_mode")).scalar_one() == "wal"
        assert connection.execute(sa.text("PRAGMA foreign_keys")).scalar_one() == 1
        assert connection.execute(sa.text("PRAGMA synchronous")).scalar_one() == 2
    failures: list[Exception] = []

    def read_then_write(other: Database, name: int) -> None:
        try:
            for turn in range(10):
                with other.writing(actor.organisation_id) as work:
                    places.by_name(work, "shop")
                    places.insert(
                        work, name=f"{name}.{turn}", kind="van", elevation_m=None, at=services.now()
                    )
        except Exception as error:
            failures.append(error)

    # Two Database objects are two processes as far as the in-process lock is concerned.
    others = [Database(str(database.engine.url)) for _ in range(2)]
    threads = [threading.Thread(target=read_then_write, args=(others[name % 2], name)) for name in range(4)]
    run(threads)
    for other in others:
        other.dispose()
    assert failures == []
    with database.reading(actor.organisation_id) as work:
        assert len(work.all(work.select(place_table), places.Place)) == 41
