"""Labels on letter and A4 paper: one cylinder with its full-size hazard label, or many labels a page."""

from collections.abc import Sequence
from typing import Final, Literal

from service.cylinders.release import ESCAPE_IN_VEHICLE
from service.paperwork.diamond import hazard_diamond, printable
from service.paperwork.drawing import BLACK, GREY, Drawing, Rect, Shape, Text, moved, scaled, wrapped
from service.paperwork.label import HEIGHT, UN_SIZE, WIDTH, LabelFacts, label
from service.paperwork.pdf import text_width_mm

Paper = Literal["letter", "a4"]
SIZES: Final[dict[str, tuple[float, float]]] = {"letter": (215.9, 279.4), "a4": (210.0, 297.0)}
FULL_EDGE: Final = 100.0
"""49 CFR 172.407(c): a hazard label is at least 100 mm on a side (from memory)."""
PRINTER_LABEL: Final = (101.6, 152.4)
"""4 by 6 in, the usual label of a shipping label printer (common practice, no source) [mm]."""
_PRINTER_SCALE: Final = 1.5
_PRINTING: Final = (
    "The label is right for the day it was printed. Print at 100\N{NO-BREAK SPACE}%, not fitted to the page,"
    " or the hazard label is too small."
)
_CAUTIONS: Final = (
    "Never above 52 °C (125 °F). Warm only with lukewarm water or room air, never a flame.",
    "Gloves and eye protection. Ventilate: refrigerant displaces oxygen.",
    ESCAPE_IN_VEHICLE,
    "Only certified technicians; local codes and the cylinder's own marks rule.",
)


def single_page(facts: LabelFacts, shipping: str, paper: Paper) -> Drawing:
    """One page: the label to cut out, the shipping description, cautions, the hazard label at full size."""
    width, height = SIZES[paper]
    left, top = 12.0, 12.0
    shapes: list[Shape] = moved(label(facts).shapes, left, top)
    x, y = left + WIDTH + 8.0, top + 5.0
    column = width - x - 12.0
    shapes.append(Text(x, y, f"Cylinder {facts.serial}", 6.0, True))
    y = _paragraph(shapes, x, y + 8.0, column, "Shipping description", shipping)
    y = _paragraph(shapes, x, y + 4.0, column, "Before anybody touches it", *_CAUTIONS)
    _paragraph(shapes, x, y + 4.0, column, "This page", _PRINTING)
    division = printable(facts.hazard_division)
    if division is not None:
        across = FULL_EDGE * 2**0.5
        shapes += hazard_diamond(
            (width - across) / 2, top + HEIGHT + 8.0, FULL_EDGE, division, colour=facts.colour
        )
    if facts.un_number is not None:
        # In the corner beside the hazard label: high enough for a cylinder of more than 60 L.
        number_y = height - 12.0
        shapes.append(Text(left, number_y, facts.un_number, 2 * UN_SIZE, True))
    return Drawing(width, height, tuple(shapes), f"Label page of cylinder {facts.serial}")


def printer_label(facts: LabelFacts) -> Drawing:
    """The label, half as large again, on 4 by 6 in: as a label printer takes it."""
    width, height = PRINTER_LABEL
    left, top = (width - _PRINTER_SCALE * WIDTH) / 2, (height - _PRINTER_SCALE * HEIGHT) / 2
    drawn = label(facts)
    return Drawing(width, height, tuple(moved(scaled(drawn.shapes, _PRINTER_SCALE), left, top)), drawn.title)


def label_pages(labels: Sequence[LabelFacts], paper: Paper) -> list[Drawing]:
    """Pages of six labels each (three across, two down) with cutting marks."""
    width, height = SIZES[paper]
    gap = 2.0
    left = (width - 3 * WIDTH - 2 * gap) / 2
    top = (height - 2 * HEIGHT - gap) / 2
    places = [(left + c * (WIDTH + gap), top + r * (HEIGHT + gap)) for r in range(2) for c in range(3)]
    pages = []
    for start in range(0, len(labels), 6):
        shapes: list[Shape] = []
        for facts, (x, y) in zip(labels[start : start + 6], places, strict=False):
            shapes += moved(label(facts).shapes, x, y) + _cutting_marks(x, y)
        pages.append(Drawing(width, height, tuple(shapes), f"Labels, page {start // 6 + 1}"))
    return pages


def _cutting_marks(x: float, y: float) -> list[Shape]:
    marks: list[Shape] = []
    for corner_x in (x, x + WIDTH):
        marks += [
            Rect(corner_x - 0.05, y - 3.0, 0.1, 2.4, BLACK),
            Rect(corner_x - 0.05, y + HEIGHT + 0.6, 0.1, 2.4, BLACK),
        ]
    return marks


def _paragraph(shapes: list[Shape], x: float, y: float, width: float, title: str, *texts: str) -> float:
    """Add a titled paragraph; the y under it [mm]."""
    shapes.append(Text(x, y, title, 2.8, True, "start", GREY))
    y += 5.0
    for text in texts:
        for line in wrapped(text_width_mm, text, width, 3.4, lines=8):
            shapes.append(Text(x, y, line, 3.4))
            y += 4.5
        y += 0.8
    return y
