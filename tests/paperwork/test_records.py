import csv
import io
import json
from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal

import pypdf
import pytest

from service.paperwork.records import Balance, Entry, Records, co2_equivalent_kg, monthly, totals
from service.paperwork.records_export import COLUMNS, as_csv, as_json
from service.paperwork.records_gaps import gaps
from service.paperwork.records_pdf import as_pdf

JANUARY = datetime(2026, 1, 5, 9, 30, tzinfo=UTC)
FEBRUARY = datetime(2026, 2, 5, 9, 30, tzinfo=UTC)
ENTRIES = (
    Entry(
        "recovered",
        JANUARY,
        "HM-1",
        "R-22",
        3.0,
        "A. Field",
        "CERT-1",
        "Example Foods",
        "12 Pier Road",
        "cooler",
        "A",
        4.5,
        co2e_ar4_kg=5430.0,
        co2e_ar5_kg=5280.0,
    ),
    Entry("recovered", FEBRUARY, "HM-1", "R-22", 2.0, co2e_ar4_kg=3620.0, co2e_ar5_kg=3520.0),
    Entry("recovered", FEBRUARY, "HM-2", "R-290", 1.0),
    Entry(
        "sent-for-reclaim",
        FEBRUARY,
        "HM-1",
        "R-22",
        5.0,
        counterparty="Example Supply",
        receipt="N-42",
        co2e_ar4_kg=9050.0,
        co2e_ar5_kg=8800.0,
        money=Decimal("62.50"),
        note="=HYPERLINK(1)",
    ),
)
RECORDS = Records("Example Cooling", date(2026, 1, 1), date(2026, 12, 31), ENTRIES)


def test_co2_equivalent_by_ar4_and_ar5():
    # IPCC AR4 and AR5 100-year GWP of R-32: 675 and 677 (read in an open data file citing IPCC).
    assert co2_equivalent_kg({"R-32": 1.0}, 2.0, {"R-32": 675.0}) == 1350.0
    assert co2_equivalent_kg({"R-32": 1.0}, 2.0, {"R-32": 677.0}) == 1354.0


def test_blends_go_by_mass_and_unknown_figures_are_not_zero():
    gwp = {"R-22": 1810.0, "R-410A": 2088.0, "R-290": None}
    assert co2_equivalent_kg({"R-22": 0.75, "R-410A": 0.25}, 4.0, gwp) == pytest.approx(
        4 * (0.75 * 1810 + 0.25 * 2088)
    )
    assert co2_equivalent_kg({"R-22": 0.5, "R-290": 0.5}, 4.0, gwp) is None
    assert co2_equivalent_kg({}, 4.0, gwp) is None


def test_totals_and_months():
    sums = {(total.kind, total.refrigerant): total for total in totals(ENTRIES)}
    assert sums["recovered", "R-22"].mass_kg == 5.0 and sums["recovered", "R-22"].co2e_ar4_kg == 9050.0
    assert sums["recovered", "R-290"].co2e_ar4_kg is None
    assert monthly(ENTRIES) == [("2026-01", "R-22", 3.0), ("2026-02", "R-22", 2.0), ("2026-02", "R-290", 1.0)]


def test_csv_has_a_line_each_and_no_formula():
    rows = list(csv.DictReader(io.StringIO(as_csv(RECORDS))))
    assert len(rows) == 4 and tuple(rows[0]) == COLUMNS
    assert rows[0]["mass_lb"] == "6.61" and rows[0]["certification_number"] == "CERT-1"
    assert rows[3]["note"] == "'=HYPERLINK(1)" and rows[2]["co2e_ar4_kg"] == ""


def test_json_holds_both_unit_systems_and_the_sums():
    document = json.loads(as_json(RECORDS))
    assert document["from"] == "2026-01-01" and len(document["entries"]) == 4
    assert document["entries"][0]["mass_kg"] == 3.0 and document["entries"][0]["mass_lb"] == 6.61
    assert document["recovered_by_month"][0] == {
        "month": "2026-01",
        "refrigerant": "R-22",
        "mass_kg": 3.0,
        "mass_lb": 6.61,
    }
    assert document["totals"][0]["co2e_ar4_kg"] == 9050.0


@pytest.mark.parametrize(("units", "expected"), [("inch-pound", "6.6 lb"), ("si", "3.00 kg")])
def test_pdf_in_the_owners_units(units, expected):
    text = "".join(
        page.extract_text() for page in pypdf.PdfReader(io.BytesIO(as_pdf(RECORDS, units=units))).pages
    )
    for word in ("Example Cooling", "Example Supply", "N-42", "CERT-1", expected, "R-290"):
        assert word in text


def test_a_gap_cites_the_law_of_the_place_and_none_is_invented_where_it_was_not_read():
    entry = Entry("recovered", JANUARY, "HM-1", "unknown", 1.0)
    assert {gap.rule.split(" ")[0] for gap in gaps([entry], "us")} == {"40"}
    assert {gap.rule.split(" ")[0] for gap in gaps([entry], "eu")} == {"Regulation"}
    assert "refrigerant" in {gap.field for gap in gaps([entry], "eu")}
    assert gaps([entry], "au") == ()


def text_of(records: Records) -> str:
    pages = pypdf.PdfReader(io.BytesIO(as_pdf(records, units="si"))).pages
    return " ".join(" ".join(page.extract_text().split()) for page in pages)


def test_pdf_lists_what_is_missing_what_was_accepted_and_what_no_entry_explains():
    full = replace(
        ENTRIES[0], certification_type="II", certification_organisation="Example Board", co2e_ar6_kg=5880.0
    )
    sent = replace(
        ENTRIES[3], counterparty_address="1 Quay Street", counterparty_certification="R-77", lot="L-9",
        their_mass_kg=4.8, accepted_on=date(2026, 2, 9),
    )  # fmt: skip
    balance = Balance("R-22", 1.0, 5.0, 0.5, 5.0, 0.5, 0.25)
    records = replace(RECORDS, entries=(full, ENTRIES[1], sent), balances=(balance,))
    text = text_of(records)
    assert "2 HM-1 where it was recovered; which appliance it came from; who recovered it" in text
    assert "1 HM-1 wh" not in text and "3 HM-1 the" not in text  # complete entries are not listed
    assert "certification R-77" in text and "lot L-9" in text and "accepted 4.80 kg on 2026-02-09" in text
    assert "5.43 / 5.28 / 5.88" in text and "-0.25 kg" in text


@pytest.mark.parametrize(
    ("law", "said"), [("us", "Missing from"), ("au", "were not read"), ("ca", "were not read")]
)
def test_pdf_says_when_the_laws_rules_on_records_were_not_read(law, said):
    assert said in text_of(replace(RECORDS, law=law))


def test_money_credited_charged_and_lost():
    # Invented prices.
    burnt = Entry(
        "sent-for-destruction", FEBRUARY, "HM-3", "mixed", 2.0, money=Decimal("-8.20"), lost=Decimal("13.20")
    )
    records = Records("x", date(2026, 1, 1), date(2026, 12, 31), (*ENTRIES, burnt), "USD")
    document = json.loads(as_json(records))
    assert document["money"] == {"currency": "USD", "credited": 62.5, "charged": 8.2, "lost": 13.2}
    text = "".join(
        page.extract_text() for page in pypdf.PdfReader(io.BytesIO(as_pdf(records, units="si"))).pages
    )
    assert "62.50" in text and "13.20" in text and "USD" in text


def test_pdf_of_nothing_and_of_hostile_text():
    assert as_pdf(Records("x", date(2026, 1, 1), date(2026, 1, 31), ()), units="si").startswith(b"%PDF")
    hostile = Entry(
        "recovered", JANUARY, "<para>&", "<b>", 1.0, note="</para><img src='file:///etc/passwd'/>"
    )
    assert as_pdf(Records("<i>", date(2026, 1, 1), date(2026, 1, 31), (hostile,)), units="si").startswith(
        b"%PDF"
    )
