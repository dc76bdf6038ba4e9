"""The database finds and orders what a list shows; both databases alike."""

from collections.abc import Sequence

import pytest

from service.operations import cylinders, holds, hookups, places
from service.operations.hookups import NewHookup
from service.operations.support import summaries
from service.operations.support.context import Actor, Services
from service.store import alarms
from service.store import cylinders as stored
from service.store import summaries as kept
from service.store.fleet import Fleet, Wanted

STAMPED = {"marks": "DOT-4BA400", "water_capacity_kg": 21.6, "tare_kg": 12.4, "gross_mass_kg": 17.0}


@pytest.fixture
def fleet(any_services: Services, any_actor: Actor) -> tuple[Services, Actor]:
    """Five cylinders: a danger in the van, a hold, one hooked up, one of R-32, one that left."""
    services, actor = any_services, any_actor
    places.create(services, actor, name="van", kind="vehicle", elevation_m=0.0)
    made = {"c-hot": "van", "b-held": "shop", "a-quiet": "shop", "d-r32": "van", "gone": "shop"}
    for serial, place in made.items():
        claim = "R-32" if serial == "d-r32" else "R-22"
        stamp = {"requalification_stamp": "6 A123 24"}
        cylinders.register(
            services, actor, serial, {**STAMPED, **stamp, "place": place, "claimed_designation": claim}
        )
    with services.database.writing(actor.organisation_id) as work:
        ids = {row.serial: row.id for row in stored.everything(work)}
        for alarm in alarms.open_ones(work):
            alarms.clear(work, alarm.id, services.now())
        alarms.insert(
            work, code="hot", severity="critical", cylinder_id=ids["c-hot"], text="hot", details={},
            raised_at=services.now(),
        )  # fmt: skip
        gone = stored.by_id(work, ids["gone"], lock=True)
        assert gone is not None
        stored.change(work, gone, at=services.now(), standing="scrapped")
    holds.place(services, actor, "b-held", "smells burnt")
    hookups.attach(services, actor, NewHookup("a-quiet", "urn:dev:x:p", "urn:dev:x:t"))
    return services, actor


def shown(fleet: tuple[Services, Actor], wanted: Wanted, limit: int = 9, offset: int = 0) -> Sequence[str]:
    services, actor = fleet
    with services.database.reading(actor.organisation_id) as work:
        ids = Fleet(work, summaries.judged_by(services)).page(wanted, limit, offset)
        serials = {row.id: row.serial for row in stored.by_ids(work, ids)}
        return [serials[one] for one in ids]


def test_danger_comes_first_then_what_is_held_then_the_rest_by_place(fleet) -> None:
    assert shown(fleet, Wanted()) == ["c-hot", "b-held", "a-quiet", "d-r32"]
    assert shown(fleet, Wanted(), limit=2, offset=1) == ["b-held", "a-quiet"]


@pytest.mark.parametrize(
    ("wanted", "serials"),
    [
        (Wanted(q="4ba"), ["c-hot", "b-held", "a-quiet", "d-r32"]),
        (Wanted(q=" D-R "), ["d-r32"]),
        (Wanted(q="%"), []),
        (Wanted(place="van"), ["c-hot", "d-r32"]),
        (Wanted(place="no place"), []),
        (Wanted(state="needs"), ["c-hot", "b-held"]),
        (Wanted(state="hold"), ["b-held"]),
        (Wanted(state="waiting"), ["a-quiet"]),
        (Wanted(state="none", place="van"), ["c-hot", "d-r32"]),
        (Wanted(refrigerant="R-32"), ["d-r32"]),
        (Wanted(refrigerant="R-3"), []),
    ],
)
def test_what_is_asked_for_is_found(fleet, wanted: Wanted, serials: list[str]) -> None:
    assert shown(fleet, wanted) == serials


def test_it_is_counted_over_all_pages(fleet) -> None:
    services, actor = fleet
    with services.database.reading(actor.organisation_id) as work:
        found = Fleet(work, summaries.judged_by(services))
        assert (found.counted(Wanted()).wanted, found.counted(Wanted()).needing) == (4, 2)
        assert found.places() == {"shop": 2, "van": 2}
        assert found.refrigerants() == ({"R-22", "R-32"}, True)


def test_a_summary_speaks_for_its_cylinder_until_the_record_the_rules_or_the_law_change(fleet) -> None:
    services, actor = fleet
    with services.database.writing(actor.organisation_id) as work:
        rules = summaries.judged_by(services)
        assert kept.missing(work, rules) == []
        assert len(kept.missing(work, "other rules")) == 4
        row = stored.by_serial(work, "d-r32", lock=True)
        assert row is not None
        stored.change(work, row, at=services.now(), notes="seen")
        assert kept.missing(work, rules) == [row.id]
    places.set_rule_book(services, actor, "shop", "eu")
    with services.database.reading(actor.organisation_id) as work:
        assert len(kept.missing(work, rules)) == 3
        assert Fleet(work, rules).refrigerants() == ({"R-22"}, False)


@pytest.mark.parametrize("change", ["change", "set_verdict", "set_contents", "open_epoch"])
def test_every_change_of_the_record_takes_the_summary_with_it(fleet, change: str) -> None:
    services, actor = fleet
    with services.database.writing(actor.organisation_id) as work:
        row = stored.by_serial(work, "a-quiet", lock=True)
        assert row is not None
        assert kept.of(work, [row.id])
        match change:
            case "change":
                stored.change(work, row, at=services.now(), notes="seen")
            case "set_verdict":
                stored.set_verdict(work, row.id, 1)
            case "set_contents":
                stored.set_contents(work, row, {})
            case _:
                stored.open_epoch(work, row, at=services.now(), cause="emptied", contents=None)
        assert kept.of(work, [row.id]) == {}
