import io
from dataclasses import replace
from datetime import date
from xml.etree import ElementTree

import pypdf
import pytest

from service.paperwork.diamond import GREEN, RED, hazard_diamond, printable
from service.paperwork.drawing import Cells, Polygon, Text, fitted, wrapped
from service.paperwork.label import HEIGHT, WIDTH, LabelFacts, label
from service.paperwork.pdf import pdf, text_width_mm
from service.paperwork.sheets import FULL_EDGE, label_pages, printer_label, single_page
from service.paperwork.svg import svg

FACTS = LabelFacts(
    serial="HM-204417",
    headline="R-410A",
    kind="recovered refrigerant",
    alert=False,
    safety_class="A1",
    hazards="",
    un_number="UN3163",
    shipping_name="Liquefied gas, n.o.s. (difluoromethane, pentafluoroethane)",
    hazard_division="2.2",
    tare_kg=12.43,
    net_kg=9.61,
    gross_kg=22.04,
    limit_net_kg=18.30,
    limit_gross_kg=30.73,
    requalify_by=date(2028, 6, 30),
    requalification_state="current",
    marks="DOT-4BA400",
    owner="Example Cooling",
    url="http://shop.example/c/HM-204417",
    printed_on=date(2026, 11, 25),
)


def words(facts):
    return [shape.text for shape in label(facts).shapes if isinstance(shape, Text)]


def test_everything_that_the_trade_looks_for_is_on_it():
    text = "\n".join(words(FACTS))
    for expected in (
        "R-410A",
        "UN3163",
        "Class 2.2",
        "A1",
        "27.4 lb",
        "21.2 lb",
        "48.6 lb",
        "40.3 lb",
        "67.7 lb",
        "2028-06-30",
        "DOT-4BA400",
        "Example Cooling",
        "HM-204417",
    ):
        assert expected in text, expected


def test_si_by_the_owners_setting():
    text = "\n".join(words(replace(FACTS, units="si")))
    assert "30.73 kg" in text and "lb" not in text


@pytest.mark.parametrize(
    "change",
    [
        {},
        {
            "headline": "R-1234ze(E)",
            "serial": "VERY-LONG-SERIAL-NUMBER-0123456789",
            "owner": "An owner " * 12,
        },
        {"headline": "UNKNOWN", "un_number": None, "shipping_name": None, "hazard_division": None},
        {"units": "si", "limit_gross_kg": 1234.56, "gross_kg": 1204.56, "marks": "DOT-39 NRC 250/500 M1001"},
        {"shipping_name": "Liquefied gas, flammable, n.o.s. (" + "a-very-long-chemical-name, " * 6},
        {"kind": "33.3 % R-22, 33.3 % R-410A, 33.4 % R-134a: for destruction only, nothing more may go in"},
    ],
)
def test_no_line_runs_off_the_label(change):
    for shape in label(replace(FACTS, **change)).shapes:
        if not isinstance(shape, Text):
            continue
        width = text_width_mm(shape.text, shape.size, bold=shape.bold)
        left = shape.x - {"start": 0.0, "middle": width / 2, "end": width}[shape.anchor]
        assert left > 0.6 and left + width < WIDTH - 0.6, shape
        assert 0.6 < shape.y < HEIGHT - 0.6, shape


def test_mixed_contents_stand_white_on_black():
    mixed = label(replace(FACTS, headline="MIXED", kind="75 % R-22, 25 % R-410A", alert=True))
    headline = next(shape for shape in mixed.shapes if isinstance(shape, Text) and shape.text == "MIXED")
    assert headline.colour == "#ffffff"


@pytest.mark.parametrize(
    ("state", "expected"),
    [("overdue", "OVERDUE 2028-06-30"), ("unknown", "date not known"), ("never", "DO NOT REFILL")],
)
def test_what_forbids_filling_is_said(state, expected):
    assert expected in words(replace(FACTS, requalification_state=state))


def test_the_pdf_has_the_size_of_the_label_roll():
    page = pypdf.PdfReader(io.BytesIO(pdf([label(FACTS)], title="label"))).pages[0]
    assert float(page.mediabox.width) * 25.4 / 72 == pytest.approx(62.0, abs=0.01)
    assert float(page.mediabox.height) * 25.4 / 72 == pytest.approx(100.0, abs=0.01)
    assert "R-410A" in page.extract_text() and "67.7 lb" in page.extract_text()


def test_the_label_of_a_label_printer_is_four_by_six_inches_and_says_the_same():
    drawn, small = printer_label(FACTS), label(FACTS)
    page = pypdf.PdfReader(io.BytesIO(pdf([drawn], title="Label"))).pages[0]
    assert (float(page.mediabox.width), float(page.mediabox.height)) == pytest.approx((288, 432), abs=0.1)
    assert [one.text for one in drawn.shapes if isinstance(one, Text)] == [
        one.text for one in small.shapes if isinstance(one, Text)
    ]
    for now, before in zip(drawn.shapes, small.shapes, strict=True):
        if isinstance(now, Text):
            assert now.size == pytest.approx(1.5 * before.size)
            assert 0.0 <= now.x <= drawn.width and 0.0 <= now.y <= drawn.height
    (code,) = [one for one in drawn.shapes if isinstance(one, Cells)]
    assert code.x + code.cell * len(code.rows) <= drawn.width


def test_the_same_facts_give_the_same_bytes():
    assert pdf([label(FACTS)], title="label") == pdf([label(FACTS)], title="label")


def test_the_svg_is_well_formed_and_named():
    hostile = replace(FACTS, serial='<script>"&', owner="<b>")
    root = ElementTree.fromstring(svg(label(hostile)))
    assert root.get("width") == "62mm" and root.get("height") == "100mm"
    assert '<script>"&' in root.get("aria-label")
    assert not list(root.iter("{http://www.w3.org/2000/svg}script"))


def test_every_line_of_the_svg_is_as_wide_as_on_paper_whatever_font_draws_it():
    texts = [shape for shape in label(FACTS).shapes if isinstance(shape, Text)]
    drawn = ElementTree.fromstring(svg(label(FACTS))).findall("{http://www.w3.org/2000/svg}text")
    assert [float(one.get("textLength")) for one in drawn] == pytest.approx(
        [text_width_mm(text.text, text.size, bold=text.bold) for text in texts], abs=0.006
    )


def test_the_code_holds_the_address():
    cells = next(shape for shape in label(FACTS).shapes if isinstance(shape, Cells))
    size = len(cells.rows)
    assert size in {25, 29, 33} and all(len(row) == size for row in cells.rows)
    assert cells.cell * (size + 8) == pytest.approx(25.0)
    finder = [row[:7] for row in cells.rows[:7]]
    assert finder[0] == (1,) * 7 and finder[3] == (1, 0, 1, 1, 1, 0, 1)


@pytest.mark.parametrize(("division", "background"), [("2.1", RED), ("2.2", GREEN)])
def test_hazard_label_as_172_415_and_172_417_draw_it(division, background):
    # 49 CFR 172.407 (from memory): a square on a point, 100 mm a side, inner line 5 mm from the edge, class
    # number below.
    shapes = hazard_diamond(0.0, 0.0, 100.0, division)
    outer, inner = [shape for shape in shapes if isinstance(shape, Polygon)][:2]
    assert outer.fill == background
    (top, right) = outer.points[:2]
    edge = ((right[0] - top[0]) ** 2 + (right[1] - top[1]) ** 2) ** 0.5
    assert edge == pytest.approx(100.0)
    gap = (inner.points[0][1] - outer.points[0][1]) / 2**0.5
    assert gap == pytest.approx(5.0)
    texts = [shape for shape in shapes if isinstance(shape, Text)]
    number = next(shape for shape in texts if shape.text == "2")
    assert number.y > top[1] + 100.0 and {"GAS", "2"} < {shape.text for shape in texts}


def test_all_of_the_symbol_lies_within_the_inner_line():
    for division in ("2.1", "2.2"):
        shapes = hazard_diamond(0.0, 0.0, 100.0, division)
        half, centre = 65.7, 50 * 2**0.5
        for shape in shapes[2:]:
            if isinstance(shape, Polygon):
                points = shape.points
            elif isinstance(shape, Text):
                width = text_width_mm(shape.text, shape.size, bold=True)
                points = [(shape.x - width / 2, shape.y), (shape.x + width / 2, shape.y)]
            else:
                points = [segment[-1] for segment in shape.segments]
            assert all(abs(x - centre) + abs(y - centre) < half for x, y in points), shape


def test_no_hazard_label_is_drawn_for_what_has_none():
    assert printable(None) is None
    assert printable("2.2 (US domestic) / 2.3 (international)") is None
    assert printable("2.1") == "2.1"


def test_sheets():
    assert [len(label_pages([FACTS] * count, "letter")) for count in (1, 6, 7, 13)] == [1, 1, 2, 3]
    for paper, (width, height) in {"letter": (215.9, 279.4), "a4": (210.0, 297.0)}.items():
        page = label_pages([FACTS] * 6, paper)[0]
        assert (page.width, page.height) == (width, height)
        single = single_page(FACTS, "UN3163, Liquefied gas, n.o.s., 2.2", paper)
        edges = [shape for shape in single.shapes if isinstance(shape, Polygon)]
        widest = max(max(x for x, _ in shape.points) - min(x for x, _ in shape.points) for shape in edges)
        assert widest == pytest.approx(FULL_EDGE * 2**0.5)
        for shape in single.shapes:
            if isinstance(shape, Polygon):
                assert all(4.0 < x < width - 4.0 and 4.0 < y < height - 4.0 for x, y in shape.points)


def test_fitting_and_wrapping():
    text, size = fitted(text_width_mm, "W" * 200, 20.0, 5.0)
    assert text.endswith("…") and text_width_mm(text, size) <= 20.0
    lines = wrapped(text_width_mm, "one two three four five six seven", 15.0, 4.0, lines=2)
    assert len(lines) == 2 and lines[1].endswith("…")


def test_the_un_number_is_as_high_as_the_law_wants_it():
    # 49 CFR 172.301(a)(1), 2015 edition, read: 6 mm to 60 L of water capacity, 12 mm above.
    for numbers in ("UN3163", "UN1018", "UN0000"):
        shapes = label(replace(FACTS, un_number=numbers)).shapes
        (number,) = [shape for shape in shapes if isinstance(shape, Text) and shape.text == numbers]
        assert 0.71 * number.size >= 6.0 - 1e-6
        assert number.x + text_width_mm(numbers, number.size, bold=True) <= WIDTH - 1.0
    on_page = [
        shape.size
        for shape in single_page(FACTS, "UN3163, Liquefied gas, n.o.s., 2.2", "a4").shapes
        if isinstance(shape, Text) and shape.text == "UN3163"
    ]
    assert max(on_page) * 0.71 >= 12.0 - 1e-6


@pytest.mark.parametrize(
    "hazards",
    ["flammable, toxic", "may be flammable", "oxidizing", "flammable, may be toxic, oxidizing",
     "may be flammable, toxic, oxidizing", "flammable, not excluded: toxic", "may be flammable, not excluded: toxic"],
)  # fmt: skip
def test_no_word_of_a_hazard_is_cut_off(hazards):
    ammonia = replace(
        FACTS, headline="R-717", safety_class="B2L", hazards=hazards, un_number="UN1005",
        shipping_name="Ammonia, anhydrous, Inhalation Hazard",
    )  # fmt: skip
    shapes = {shape.text: shape for shape in label(ammonia).shapes if isinstance(shape, Text)}
    assert hazards in shapes and "Class 2.2   ASHRAE 34 B2L" in shapes
    line = shapes[hazards]
    assert line.x + text_width_mm(hazards, line.size, bold=True) <= WIDTH - 2.0 and line.y < 48.4
