import csv
from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.cylinders.markings import read_marks
from service.cylinders.requalification import (
    Condition,
    Dates,
    State,
    breaches,
    last_day_of,
    period_years,
    requalification,
)
from service.cylinders.requalification_stamp import Stamp
from tests.cylinders.conftest import DATA

MARKS = read_marks("DOT-4BA400")
JUNE_2021 = Dates(Stamp(2021, 6))


@pytest.mark.parametrize(
    ("on", "state"),
    [
        # Reference (inferred from 180.205(c)): tested 06/2021, five years: filling through 30 Jun 2026, not
        # from 1 Jul.
        (date(2026, 4, 30), State.CURRENT),
        (date(2026, 5, 1), State.CURRENT),
        (date(2026, 5, 2), State.DUE_SOON),
        (date(2026, 6, 29), State.DUE_SOON),
        (date(2026, 6, 30), State.DUE_SOON),
        (date(2026, 7, 1), State.OVERDUE),
        (date(2026, 12, 1), State.OVERDUE),
    ],
)
def test_the_month_it_is_due_in_still_counts(on, state):
    answer = requalification(MARKS, JUNE_2021, on=on)
    assert answer.state is state
    assert answer.due_on == date(2026, 6, 30)
    assert answer.may_be_filled is (state is not State.OVERDUE)
    assert answer.may_be_emptied_and_shipped


@pytest.mark.parametrize(
    ("stamp", "due"),
    [
        ((2019, 2), date(2024, 2, 29)),
        ((2020, 2), date(2025, 2, 28)),
        ((2023, 12), date(2028, 12, 31)),
        ((2024, 4), date(2029, 4, 30)),
    ],
)
def test_last_day_of_the_month(stamp, due):
    assert requalification(MARKS, Dates(Stamp(*stamp)), on=date(2024, 5, 1)).due_on == due


def test_twelve_years_only_on_the_owners_statement():
    claimed = Dates(Stamp(2018, 6), condition=Condition.COATED_VOLUMETRIC)
    proven = Dates(
        Stamp(2018, 6),
        condition=Condition.COATED_VOLUMETRIC,
        owner_statement="coated, dry gas only, A. Owner",
    )
    assert requalification(MARKS, claimed, on=date(2026, 1, 1)).state is State.OVERDUE
    answer = requalification(MARKS, proven, on=date(2026, 1, 1))
    assert answer.due_on == date(2030, 6, 30) and answer.rule.mark == "memory"


def test_proof_pressure_is_twelve_then_ten():
    said = {"condition": Condition.COATED_PROOF, "owner_statement": "coated, dry gas only"}
    first = requalification(MARKS, Dates(Stamp(2018, 6), is_manufacture=True, **said), on=date(2026, 1, 1))
    later = requalification(MARKS, Dates(Stamp(2018, 6), **said), on=date(2026, 1, 1))
    assert (first.due_on.year, later.due_on.year) == (2030, 2028)
    assert later.rule.mark == "inferred"


def test_under_adr_a_receptacle_of_toxic_gas_comes_back_after_five_years():
    # ADR 4.1.4.1 P200 (9) and table 2 (read).
    marks, stamped = replace(read_marks("PH 48 BAR"), law="eu"), Stamp(2018, 6)
    due = [
        requalification(marks, dates, on=date(2020, 1, 1)).due_on
        for dates in (Dates(stamped), Dates(stamped, toxic_service=True))
    ]
    assert due == [date(2028, 6, 30), date(2023, 6, 30)]


def test_non_refillable_is_never_requalified():
    assert (
        requalification(read_marks("DOT-39 NRC 250/500"), JUNE_2021, on=date(2022, 1, 1)).state is State.NEVER
    )


def test_without_a_stamp_or_a_known_period_nothing_can_be_shown():
    (unstamped,) = breaches(MARKS, Dates(), on=date(2026, 1, 1))
    (foreign,) = breaches(read_marks("PH 48 BAR"), JUNE_2021, on=date(2026, 1, 1))
    assert unstamped.rule.code == foreign.rule.code == "requalification-unknown"
    assert (unstamped.detail, foreign.detail) == (
        "no stamp is recorded", "no period is known for 'PH 48 BAR'",
    )  # fmt: skip
    stated = Dates(stated_due_on=date(2030, 3, 1))
    assert breaches(read_marks("PH 48 BAR"), stated, on=date(2030, 3, 31)) == []


def test_a_stated_service_life_ends_filling():
    # 173.301(a)(7), 2015 edition, read.
    dates = Dates(Stamp(2025, 1), service_life_ends=date(2026, 1, 31))
    assert [b.rule.code for b in breaches(MARKS, dates, on=date(2026, 2, 1))] == ["service-life-over"]


@given(st.integers(1960, 2040), st.integers(1, 12), st.dates(date(1990, 1, 1), date(2060, 1, 1)))
def test_it_may_be_filled_up_to_the_last_day_and_not_after(year, month, on):
    answer = requalification(MARKS, Dates(Stamp(year, month)), on=on)
    assert answer.may_be_filled is (on <= last_day_of(year + 5, month))


with (DATA / "requalification.csv").open(newline="", encoding="utf-8") as file:
    PUBLISHED = list(csv.DictReader(file))
SAID = {"owner_statement": "coated, dry non-corrosive gas only, exclusive service"}
# (specification, condition of the table) to what the owner would enter; the rest of the table is no refrigerant's.
COVERED = {
    ("DOT 4B, 4BA, 4BW, 4B240ET", "any service, default"): (["4B300", "4BA400", "4BW400", "4B240ET"], {}),
    ("DOT 4E", "default"): (["4E240"], {}),
    ("DOT 3A, 3AA", "default"): (["3A1800", "3AA1800"], {}),
    ("DOT 3AL", "default"): (["3AL1800"], {}),
    ("DOT 4D, 4DA, 4DS", "default"): (["4D300", "4DA500", "4DS500"], {}),
    ("DOT 4B, 4BA, 4BW, 4E", "coated volumetric"): (
        ["4B300", "4BA400", "4BW400", "4E240"],
        {"condition": Condition.COATED_VOLUMETRIC, **SAID},
    ),
    ("DOT 4B, 4BA, 4BW, 4E", "coated proof"): (
        ["4BA400", "4BW400"],
        {"condition": Condition.COATED_PROOF, **SAID},
    ),
    ("DOT 4B, 4BA, 4BW, 4E (and others listed)", "visual"): (
        ["4BA400"],
        {"condition": Condition.EXTERNAL_VISUAL, **SAID},
    ),
}


def published(specification, condition):
    """The table's row: its conditions in words are long, so they are told by the test that they name."""
    wanted = {"coated volumetric": "volumetric", "coated proof": "proof", "visual": "visual"}.get(condition)
    for row in PUBLISHED:
        if row["specification"] != specification:
            continue
        if row["condition"] == condition or (
            wanted and wanted in row["test"] and "default" not in row["condition"]
        ):
            return row
    raise LookupError((specification, condition))


@pytest.mark.parametrize(("key", "case"), COVERED.items(), ids=[" / ".join(key) for key in COVERED])
def test_periods_of_the_published_table(key, case):
    # requalification.csv: 49 CFR 180.209, each row with its source and how it is known.
    row, (marks, said) = published(*key), case
    for mark in marks:
        for first, column in ((True, "first_period_years"), (False, "following_period_years")):
            if not row[column].isdigit():
                continue
            years = period_years(
                read_marks(f"DOT-{mark}"), Dates(Stamp(2020, 6), is_manufacture=first, **said)
            )
            assert years is not None and years[0] == int(row[column]), (mark, column)


def test_what_the_table_keeps_for_fire_extinguishers_is_nobodys_here():
    extinguishers = [row for row in PUBLISHED if "fire extinguishers" in row["condition"]]
    assert {row["following_period_years"] for row in extinguishers} == {"12", "7"}
    assert {str(one) for one in Condition} & {"fire-extinguisher"} == set()
