"""Every numeric rule, just inside and just outside its limit; rows with their sources in ``data/boundaries.csv``."""

import csv
from collections.abc import Callable
from datetime import date

import pytest

from service.cylinders import requalification as dates_of
from service.cylinders import rules
from service.cylinders.carriage import TradeLoad, materials_of_trade
from service.cylinders.filling import filling_breaches, filling_limit
from service.cylinders.markings import Marks, read_marks
from service.cylinders.properties import Hazard, Knowledge
from service.cylinders.rating import AirLoad, rating
from service.cylinders.release import Load, release
from service.cylinders.requalification import Condition, Dates
from service.cylinders.requalification_stamp import read_stamp
from service.cylinders.water_capacity import water_capacity_from_volume_m3
from service.store.artefacts import load_catalogue, load_curves
from service.store.rulebook import load_adr_gases, load_filling_table
from tests.cylinders.conftest import DATA

Given = dict[str, str]

with (DATA / "boundaries.csv").open(newline="", encoding="utf-8") as file:
    ROWS = list(csv.DictReader(file))

WITHOUT_A_NUMBER = {
    "non-refillable", "marks-unknown", "rating-unproven", "packaging-listed", "flammable-not-marked",
    "capacity-unknown", "mass-unknown", "requalification-unknown", "contents-unknown", "unknown-alone",
    "unknown-unmeasured", "nameplate-contradicted", "not-evacuated", "on-hold", "out-of-service",
    "inspect-before-filling", "weigh-again", "not-enough", "vapour-shifts-blend", "new-owner-only-reclaimed",
    "owner-consent", "claim-only", "secured", "law-not-read", "marks-of-another-law", "packaging-p200",
    "no-conformity-mark", "requalification-5-years", "requalification-12-years", "requalification-10-years",
    "requalification-external-visual", "advice", "leaking", "mixed-for-reclaim", "not-empty",
}  # fmt: skip
# Their number is a share of a mixture: held in test_contents.py.
ELSEWHERE = {"one-refrigerant"}


@pytest.fixture(scope="module")
def shipped() -> Knowledge:
    catalogue = load_catalogue()

    def hazard(name: str) -> Hazard:
        return Hazard("A1", "2.2", False, un_number=catalogue[name].un_number.value)

    return Knowledge(load_curves(), load_filling_table(), hazard, load_adr_gases())


def marks_of(given: Given) -> Marks:
    return read_marks(given["marks"], law=given.get("law", "us"))


def of_rating(given: Given, shipped: Knowledge) -> set[str]:
    air = AirLoad(1000.0 * float(given.get("air_kpa", 0.0)))
    answer = rating(marks_of(given), given["designation"], shipped, air=air, flammable_marked=True)
    return {breach.rule.code for breach in answer.breaches}


def of_filling(given: Given, shipped: Knowledge) -> set[str]:
    litres = given.get("water_l")
    water = water_capacity_from_volume_m3(float(litres) / 1e3) if litres else float(given["water_kg"])
    marks = marks_of(given) if "marks" in given else None
    limit = filling_limit(given["designation"], water, shipped, marks=marks)
    return {breach.rule.code for breach in filling_breaches(limit, float(given["mass_kg"]))}


def of_dates(given: Given, shipped: Knowledge) -> set[str]:
    on = date.fromisoformat(given["on"])
    dates = Dates(
        stamp=read_stamp(given["stamp"], on=on, law=given.get("law", "us")) if "stamp" in given else None,
        condition=Condition(given.get("condition", "default")),
        owner_statement=given.get("statement"),
        stated_due_on=date.fromisoformat(given["due"]) if "due" in given else None,
        service_life_ends=date.fromisoformat(given["life"]) if "life" in given else None,
        toxic_service="toxic" in given,
    )
    return {breach.rule.code for breach in dates_of.breaches(marks_of(given), dates, on=on)}


def of_release(given: Given, shipped: Knowledge) -> set[str]:
    molar, limit = float(given["molar_g"]) / 1e3, float(given["rcl_ppm"])
    load = Load("HM-1", "R-X", float(given["mass_kg"]), molar, limit, flammable=False)
    answer = release([load], float(given["volume_m3"]), elevation_m=float(given.get("elevation_m", 0.0)))
    return {breach.rule.code for breach in answer.breaches}


def of_trade(given: Given, shipped: Knowledge) -> set[str]:
    loads = [TradeLoad("HM-1", float(given["gross_kg"]), (given.get("division", "2.2"),))]
    if "others_kg" in given:
        loads.append(TradeLoad("HM-2", float(given["others_kg"]), ("2.2",)))
    return {breach.rule.code for breach in materials_of_trade(loads).breaches}


JUDGES: dict[str, Callable[[Given, Knowledge], set[str]]] = {
    "rating": of_rating, "packaging": of_rating, "fill": of_filling, "requalification": of_dates,
    "service": of_dates, "rcl": of_release, "oxygen": of_release, "materials": of_trade,
}  # fmt: skip


def given_with(row: dict[str, str], value: str) -> Given:
    return dict(part.split("=", 1) for part in row["given"].format(value).split(";"))


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row['rule']} {row['given']}")
def test_just_inside_is_allowed_and_just_outside_is_not(row: dict[str, str], shipped: Knowledge) -> None:
    judge = JUDGES[row["rule"].split("-")[0]]
    assert row["rule"] not in judge(given_with(row, row["inside"]), shipped)
    assert row["rule"] in judge(given_with(row, row["outside"]), shipped)


def test_every_row_has_its_source() -> None:
    assert all(row["source"] and row["how_known"] for row in ROWS)


def test_every_rule_is_in_the_table_or_has_no_number() -> None:
    tabled = {row["rule"] for row in ROWS}
    assert not tabled & WITHOUT_A_NUMBER
    assert tabled | WITHOUT_A_NUMBER | ELSEWHERE == set(rules.ALL)
