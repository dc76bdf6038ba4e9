"""The whole filling-density table of 49 CFR 173.304a(a)(2) and (d)(1), row by row."""

import csv

import pytest

from service.cylinders.densities import FillingTable
from service.cylinders.filling import filling_limit
from service.cylinders.markings import read_marks
from tests.cylinders.conftest import TABLE

with TABLE.open(newline="", encoding="utf-8") as file:
    ROWS = list(csv.DictReader(file))
NAMED = [row for row in ROWS if row["designation"].startswith("R-")]
LPG = [row for row in ROWS if row["designation"].startswith("LPG")]


def test_every_row_is_read_with_its_source(table: FillingTable):
    assert len(table.rows) == len(ROWS) == 65
    assert all(row.source and row.how_known for row in table.rows)
    assert len(NAMED) == 26 and len(LPG) == 32


@pytest.mark.parametrize(
    "record", NAMED, ids=lambda row: f"{row['designation']}-{row['max_filling_density_pct']}"
)
def test_each_named_gas_gets_its_percentage_in_each_packaging_that_its_row_lists(record, table):
    words = [word.strip() for word in record["authorised_packaging_DOT"].split(";")]
    for word in words:
        marks = read_marks(f"DOT-{word}")
        admitting = [row for row in table.named(record["designation"]) if row.admits(marks)]
        if not marks.understood:  # rows in words, such as "without brazed seams"
            continue
        percents = [row.percent for row in admitting]
        expected = float(record["max_filling_density_pct"]) if record["max_filling_density_pct"] else None
        assert expected in percents, (word, percents)


@pytest.mark.parametrize("record", LPG, ids=lambda row: row["max_filling_density_pct"])
def test_each_gravity_gets_its_percentage(record, table):
    low, high = (float(word) for word in record["gas"].rsplit("F ", 1)[1].split(" to "))
    for gravity in (low, (low + high) / 2, high):
        assert table.lpg(gravity).percent == float(record["max_filling_density_pct"])


def test_below_the_table_there_is_no_percentage(table):
    assert table.lpg(0.25) is None


@pytest.mark.parametrize(
    ("designation", "mark", "admitted"),
    [
        # 173.304a(a)(2), 2015 edition, read.
        ("R-22", "DOT-4BA240", True), ("R-22", "DOT-4B240", True), ("R-22", "DOT-4BA225", False),
        ("R-22", "DOT-4BA400", True), ("R-12", "DOT-4BW225", True), ("R-717", "DOT-4BA400", False),
        ("R-13", "DOT-4BA400", False), ("R-13B1", "DOT-4BA400", True), ("R-13B1", "DOT-4BA350", False),
        ("R-744", "DOT-3AA1800", True), ("R-744", "DOT-4BA500", False), ("R-142b", "DOT-4B150", True),
    ],
)  # fmt: skip
def test_packagings(designation, mark, admitted, table):
    assert any(row.admits(read_marks(mark)) for row in table.named(designation)) is admitted


@pytest.mark.parametrize("designation", ["R-12", "R-22", "R-115", "R-142b", "R-152a"])
def test_the_tables_percentage_lies_close_under_the_computed_55_degree_mass(
    designation, knowledge, reference_rows
):
    # computed_checks_coolprop.csv (computed): the legal figure is the 55 °C liquid-full figure with a small
    # margin.
    computed = float(reference_rows[designation]["mass_liquid_full_at_55C_as_pct_of_water_60F"])
    row = knowledge.table.named(designation)[0]
    assert 0.96 * computed < row.percent < computed
    limits = {one.rule.code: one.mass_kg for one in filling_limit(designation, 100.0, knowledge).limits}
    assert limits["fill-density"] == pytest.approx(row.percent)
