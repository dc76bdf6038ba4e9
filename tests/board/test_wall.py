"""The wall: every cylinder at once, the worst first, and cost by what is shown."""

import re

import pytest

from service.board.views.alarms import AlarmsPage
from service.board.views.wall import wall_page
from service.operations import cylinders, fleet, holds
from service.operations.fleet import Wall
from service.operations.support.context import Actor, Services
from service.store.fleet import DANGER, QUIET, Tile
from tests.board.conftest import Visitor
from tests.support.queries import recorded

STAMPED = {"place": "shop", "marks": "DOT-4BA400", "water_capacity_kg": 21.6, "tare_kg": 12.4}
NOTHING = AlarmsPage((), 0, (), (), "")


def test_every_cylinder_is_there_the_worst_first_and_danger_says_its_word(
    technician_at: Visitor, services: Services, actor: Actor
) -> None:
    sound = {**STAMPED, "requalification_stamp": "06 A123 25"}
    cylinders.register(
        services, actor, "HM-1", {**sound, "gross_mass_kg": 20.0, "claimed_designation": "R-22"}
    )
    over = {**sound, "claimed_designation": "R-410A", "gross_mass_kg": 33.0}
    cylinders.register(services, actor, "HM-2", over)
    cylinders.register(services, actor, "HM-3", sound)
    holds.place(services, actor, "HM-3", "smells burnt")
    page = technician_at.get("/wall")
    assert page.status_code == 200
    tiles = re.findall(r'<li class="tile[^"]*level-(\w+)"[^>]*>.*?(HM-\d)', page.text)
    assert tiles == [("danger", "HM-2"), ("hold", "HM-3"), ("clear", "HM-1")]
    assert re.search(r"grows level-danger.*?Overfull", page.text)


@pytest.mark.parametrize("number", [3, 30])
def test_it_takes_as_many_statements_whatever_is_there(
    technician_at: Visitor, services: Services, actor: Actor, number: int
) -> None:
    for k in range(number):
        cylinders.register(services, actor, f"HM-{k}", STAMPED)
    with recorded(services.database.engine) as statements:
        assert technician_at.get("/wall").text.count('<li class="tile') == number
    assert len(statements) <= 16


def test_where_there_is_no_room_quiet_ones_are_a_number_per_place() -> None:
    tiles = [Tile(f"D{k}", "van-1", DANGER, "leak") for k in range(20)]
    tiles += [Tile(f"Q{k}", "shop", QUIET, None) for k in range(fleet.A_WALL - 20)]
    page = wall_page(Wall(tiles, {"shop": 9000, "van-1": 30}, 20), NOTHING)
    assert [(bay.place, len(bay.marks), bay.quiet) for bay in page.bays] == [
        ("van-1", 20, 10),
        ("shop", 0, 9000),
    ]
