"""The records of a period as a PDF that can be printed and filed."""

import io
from collections.abc import Iterator, Sequence
from itertools import groupby
from typing import Any, Final

from reportlab.lib import colors
from reportlab.lib.pagesizes import A4, LETTER, landscape
from reportlab.lib.styles import ParagraphStyle, getSampleStyleSheet
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import (
    CondPageBreak,
    Flowable,
    Paragraph,
    SimpleDocTemplate,
    Spacer,
    Table,
    TableStyle,
)

from service.cylinders.books import BOOKS
from service.paperwork.pdf import latin
from service.paperwork.records import Entry, Records, money_sums, monthly, totals
from service.paperwork.records_gaps import gaps
from service.paperwork.units import Units, mass

_STYLES: Final = getSampleStyleSheet()
_CELL: Final = ParagraphStyle(
    "cell", parent=_STYLES["BodyText"], fontSize=7.2, leading=8.6, spaceBefore=0, spaceAfter=0
)
_HEAD: Final = ParagraphStyle("head", parent=_CELL, fontName="Helvetica-Bold")
_HEAD_NUMBER: Final = ParagraphStyle("head-number", parent=_HEAD, alignment=2)
_NUMBER: Final = ParagraphStyle("number", parent=_CELL, alignment=2)
_TITLES: Final = {
    "recovered": "Recovered from equipment",
    "charged": "Charged into equipment",
    "moved": "Moved between cylinders",
    "sent-for-reclaim": "Sent for reclaim",
    "sent-for-destruction": "Sent for destruction",
}
_MONEY: Final = {
    "credited": "Credited for what was reclaimed",
    "charged": "Charged for what was destroyed",
    "lost": "Lost by destruction: the charge, and the credit that clean refrigerant would have brought",
}
_NOTE: Final = (
    "CO2-equivalent: mass times the 100-year GWP of IPCC AR4, AR5 and AR6; a dash where a figure is not known. "
    "Entries are never changed; a correction is an entry of its own."
)


def as_pdf(records: Records, *, units: Units) -> bytes:
    """The records as a PDF on landscape letter (inch-pound) or A4 (SI)."""
    buffer = io.BytesIO()
    page = landscape(LETTER if units == "inch-pound" else A4)
    title = f"Refrigerant records {records.first.isoformat()} to {records.last.isoformat()}"
    document = SimpleDocTemplate(
        buffer, pagesize=page, title=title, author=latin(records.owner), invariant=1,
        leftMargin=12 * mm, rightMargin=12 * mm, topMargin=14 * mm, bottomMargin=14 * mm,
    )  # fmt: skip
    story: list[Flowable] = [
        Paragraph(_safe(title), _STYLES["Heading2"]),
        Paragraph(_safe(records.owner), _STYLES["BodyText"]),
        Paragraph(_safe(f"Times are those of {records.time_zone}."), _STYLES["BodyText"]),
        Spacer(1, 3 * mm),
    ]
    story += _missing(records) + _summary(records, units) + _balances(records, units) + _money(records)
    numbered = list(enumerate(records.entries, 1))
    for kind, heading in _TITLES.items():
        entries = [(number, entry) for number, entry in numbered if entry.kind == kind]
        if entries:
            story += [
                CondPageBreak(25 * mm),
                Paragraph(heading, _STYLES["Heading4"]),
                _entries(entries, units),
                Spacer(1, 3 * mm),
            ]
    story.append(Paragraph(_NOTE, _CELL))
    document.build(story, onFirstPage=_page_number, onLaterPages=_page_number)
    return buffer.getvalue()


def _missing(records: Records) -> list[Flowable]:
    """What the law asks for and the entries lack, or that its rules on records were not read."""
    heading = Paragraph("Missing from this record", _STYLES["Heading4"])
    unread = BOOKS[records.law].missing.get("records")
    if unread is not None:
        words = f"Whether it has all that the law asks for was not checked: {unread}."
        return [heading, Paragraph(_safe(words), _STYLES["BodyText"]), Spacer(1, 3 * mm)]
    found = gaps(records.entries, records.law)
    if not found:
        return []
    rows = [["Entry", "Cylinder", "What is missing", "Asked for by"]]
    for number, of_entry in groupby(found, key=lambda gap: gap.entry):
        lacking = list(of_entry)
        rules = dict.fromkeys(gap.rule for gap in lacking)
        what = "; ".join(gap.what for gap in lacking)
        rows.append([str(number), lacking[0].serial, what, "; ".join(rules)])
    return [heading, _table(rows, [14, 30, 116, 95], numbers=(0,)), Spacer(1, 3 * mm)]


def _balances(records: Records, units: Units) -> list[Flowable]:
    """Per refrigerant: what was on hand, came, went and is on hand, and what no entry explains."""
    if not records.balances:
        return []
    rows = [
        [
            "Balance",
            "At the start",
            "Recovered",
            "Charged",
            "Sent",
            "By the entries",
            "On hand",
            "Unexplained",
        ]
    ]
    for balance in records.balances:
        figures = (
            balance.opening_kg, balance.recovered_kg, balance.charged_kg, balance.sent_kg,
            balance.closing_kg, balance.on_hand_kg, balance.unexplained_kg,
        )  # fmt: skip
        rows.append([balance.refrigerant, *("-" if kg is None else mass(kg, units) for kg in figures)])
    return [_table(rows, [40, *[26] * 7], numbers=range(1, 8)), Spacer(1, 3 * mm)]


def _summary(records: Records, units: Units) -> list[Flowable]:
    rows = [["", "Refrigerant", "Mass", "t CO2e (AR4)", "t CO2e (AR5)", "t CO2e (AR6)"]]
    rows += [
        [_TITLES.get(total.kind, total.kind), total.refrigerant, mass(total.mass_kg, units),
         _tonnes(total.co2e_ar4_kg), _tonnes(total.co2e_ar5_kg), _tonnes(total.co2e_ar6_kg)]
        for total in totals(records.entries)
    ]  # fmt: skip
    if len(rows) == 1:
        return [Paragraph("Nothing was recorded in this period.", _STYLES["BodyText"])]
    months = [["Recovered in", "Refrigerant", "Mass"]]
    months += [[month, name, mass(kg, units)] for month, name, kg in monthly(records.entries)]
    story: list[Flowable] = [
        Paragraph("Totals", _STYLES["Heading4"]),
        _table(rows, [52, 40, 26, 26, 26, 26], numbers=(2, 3, 4, 5)),
        Spacer(1, 3 * mm),
    ]
    return story + (
        [_table(months, [30, 40, 26], numbers=(2,)), Spacer(1, 3 * mm)] if len(months) > 1 else []
    )


def _money(records: Records) -> list[Flowable]:
    """Credits, charges and losses, where the owner has prices."""
    if not records.currency:
        return []
    sums = money_sums(records.entries)
    rows = [["Money by the owner's table", records.currency]]
    rows += [[words, f"{sums[name]:.2f}"] for name, words in _MONEY.items()]
    return [_table(rows, [90, 26], numbers=(1,)), Spacer(1, 3 * mm)]


def _entries(entries: Sequence[tuple[int, Entry]], units: Units) -> Table:
    rows = [
        [
            "",
            "Date",
            "Cylinder",
            "Refrigerant",
            "Mass",
            "t CO2e AR4 / AR5 / AR6",
            "Equipment or receiver",
            "Technician",
            "Note",
        ]
    ]
    for number, entry in entries:
        equivalents = (entry.co2e_ar4_kg, entry.co2e_ar5_kg, entry.co2e_ar6_kg)
        rows.append([
            str(number), f"{entry.at:%Y-%m-%d %H:%M}", entry.serial, entry.refrigerant,
            mass(entry.mass_kg, units), " / ".join(_tonnes(kg) for kg in equivalents),
            _where(entry, units), _who(entry), entry.note,
        ])  # fmt: skip
    return _table(rows, [8, 27, 24, 26, 16, 34, 56, 38, 26], numbers=(0, 4, 5))


def _who(entry: Entry) -> str:
    parts = (
        entry.technician, entry.certification, entry.certification_type, entry.certification_organisation
    )  # fmt: skip
    return ", ".join(part for part in parts if part)


def _where(entry: Entry, units: Units) -> str:
    if entry.counterparty:
        return ", ".join(part for part in (entry.counterparty, *_receiver(entry, units)) if part)
    charge = f"charge {mass(entry.charge_kg, units)}" if entry.charge_kg is not None else ""
    parts = (entry.equipment_owner, entry.location, entry.appliance, entry.circuit, charge)
    return ", ".join(part for part in parts if part)


def _receiver(entry: Entry, units: Units) -> Iterator[str]:
    yield entry.counterparty_address
    yield f"certification {entry.counterparty_certification}" if entry.counterparty_certification else ""
    yield f"receipt {entry.receipt or '-'}"
    yield f"lot {entry.lot}" if entry.lot else ""
    if entry.their_mass_kg is not None:
        on = f" on {entry.accepted_on.isoformat()}" if entry.accepted_on else ""
        yield f"accepted {mass(entry.their_mass_kg, units)}{on}"


def _table(rows: Sequence[Sequence[str]], widths_mm: Sequence[float], *, numbers: Sequence[int]) -> Table:
    heads = [_HEAD_NUMBER if column in numbers else _HEAD for column in range(len(rows[0]))]
    cells: list[list[Any]] = [
        [Paragraph(_safe(cell), head) for cell, head in zip(rows[0], heads, strict=True)]
    ]
    cells += [
        [Paragraph(_safe(cell), _NUMBER if column in numbers else _CELL) for column, cell in enumerate(row)]
        for row in rows[1:]
    ]
    table = Table(cells, colWidths=[width * mm for width in widths_mm], repeatRows=1, hAlign="LEFT")
    table.setStyle(
        TableStyle([
            ("LINEBELOW", (0, 0), (-1, 0), 0.8, colors.black),
            ("LINEBELOW", (0, 1), (-1, -1), 0.2, colors.grey),
            ("VALIGN", (0, 0), (-1, -1), "TOP"),
            ("TOPPADDING", (0, 0), (-1, -1), 1.5),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 1.5),
        ])
    )  # fmt: skip
    return table


def _page_number(canvas: Canvas, document: Any) -> None:
    canvas.saveState()
    canvas.setFont("Helvetica", 7)
    canvas.drawRightString(document.pagesize[0] - 12 * mm, 7 * mm, f"page {document.page}")
    canvas.restoreState()


def _safe(text: str) -> str:
    """Text without markup of its own."""
    return latin(text).replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def _tonnes(kilograms: float | None) -> str:
    return "-" if kilograms is None else f"{kilograms / 1000.0:.2f}"
