"""Registering, reading and correcting cylinders."""

import threading

import pytest

from service.operations import cylinders
from service.operations.support import events
from service.operations.support.context import Actor, Services
from service.operations.support.errors import Conflict, Invalid, NotFound, StaleVersion
from service.store.paging import PageRequest


def test_a_serial_alone_is_enough(any_services: Services, any_actor: Actor) -> None:
    cylinder = cylinders.register(any_services, any_actor, "HM-1", {})
    assert (cylinder.serial, cylinder.place, cylinder.epoch, cylinder.version) == ("HM-1", None, 1, 1)
    assert cylinders.read(any_services, any_actor, "HM-1") == cylinder


def test_a_serial_entered_twice_is_refused(any_services: Services, any_actor: Actor) -> None:
    cylinders.register(any_services, any_actor, "HM-1", {})
    with pytest.raises(Conflict, match="registered already"):
        cylinders.register(any_services, any_actor, "HM-1", {})


def test_the_label_is_written_as_the_catalogue_does(services: Services, actor: Actor) -> None:
    cylinder = cylinders.register(services, actor, "HM-1", {"claimed_designation": "r410a"})
    assert cylinder.claimed_designation == "R-410A"
    with pytest.raises(Invalid, match="designation such as R-410A"):
        cylinders.register(services, actor, "HM-2", {"claimed_designation": "R-9999"})


def test_a_tare_above_gross_is_refused(services: Services, actor: Actor) -> None:
    with pytest.raises(Invalid, match="at most the gross mass, "):
        cylinders.register(services, actor, "HM-1", {"tare_kg": 12.0, "gross_mass_kg": 11.0})
    cylinders.register(services, actor, "HM-2", {"tare_kg": 12.0})
    with pytest.raises(Invalid, match="at most the gross mass, "):
        cylinders.correct(services, actor, "HM-2", {"gross_mass_kg": 3.0}, lambda _: True)


def test_a_correction_of_what_somebody_else_changed_is_refused(services: Services, actor: Actor) -> None:
    cylinders.register(services, actor, "HM-1", {})
    changed = cylinders.correct(services, actor, "HM-1", {"owner": "us"}, lambda c: c.version == 1)
    assert (changed.version, changed.owner) == (2, "us")
    with pytest.raises(StaleVersion):
        cylinders.correct(services, actor, "HM-1", {"owner": "them"}, lambda c: c.version == 1)
    assert cylinders.read(services, actor, "HM-1").owner == "us"


def test_two_corrections_at_once_lose_none(any_services: Services, any_actor: Actor) -> None:
    cylinders.register(any_services, any_actor, "HM-1", {})
    outcomes: list[str] = []

    def correct(name: str) -> None:
        try:
            cylinders.correct(any_services, any_actor, "HM-1", {"owner": name}, lambda c: c.version == 1)
            outcomes.append("changed")
        except StaleVersion:
            outcomes.append("stale")

    threads = [threading.Thread(target=correct, args=(str(number),)) for number in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(outcomes) == ["changed", "stale", "stale", "stale"]


def test_unknown_places_and_cylinders_are_not_found(services: Services, actor: Actor) -> None:
    with pytest.raises(NotFound, match="place moon"):
        cylinders.register(services, actor, "HM-1", {"place": "moon"})
    with pytest.raises(NotFound, match="cylinder HM-1"):
        cylinders.read(services, actor, "HM-1")


def test_lists_are_filtered(services: Services, actor: Actor) -> None:
    cylinders.register(services, actor, "A", {"place": "shop", "claimed_designation": "R-22"})
    cylinders.register(services, actor, "B", {"claimed_designation": "R-22"})

    def serials(**by: str | None) -> list[str]:
        wanted = {"place": None, "designation": None, **by}
        return [c.serial for c in cylinders.listed(services, actor, PageRequest(), **wanted).items]

    assert serials() == ["A", "B"]
    assert serials(place="shop") == ["A"]
    assert serials(designation="R-22") == ["A", "B"]
    assert serials(designation="R-32") == []


def test_every_change_is_an_event(services: Services, actor: Actor) -> None:
    cylinders.register(services, actor, "HM-1", {"tare_kg": 12.0})
    cylinders.correct(services, actor, "HM-1", {"owner": "us"}, lambda _: True)
    history = events.history(services, actor, "cylinders/HM-1")
    assert [event.data["change"] for event in history] == ["corrected", "registered"]
    assert {event.actor for event in history} == {actor.name}


def test_a_mark_in_a_unit_that_is_not_known_is_refused_and_never_read_as_pounds(
    services: Services, actor: Actor
) -> None:
    with pytest.raises(Invalid) as refused:
        cylinders.register(services, actor, "A-1", {"marks": "DOT-4BA400 WC 1300 CU IN"})
    assert "WC 1300 CU IN" in str(refused.value) and "LB, KG or L" in str(refused.value)
    beside = {"marks": "DOT-4BA400 WC 1300 CU IN", "water_capacity_kg": 21.3}
    assert cylinders.register(services, actor, "A-1", beside).water_capacity_kg == 21.3
