"""The cylinder's label, 62 x 100 mm: what is in it, how much may be, whose it is, until when it is filled.

Black on white carries everything, so that any label printer will do; the hazard label in color is an
addition.
"""

from dataclasses import dataclass
from datetime import date
from typing import Final

from service.paperwork.code import code
from service.paperwork.diamond import hazard_diamond, printable
from service.paperwork.drawing import (
    BLACK,
    WHITE,
    Drawing,
    Rect,
    Shape,
    Text,
    fitted,
    wrapped,
)  # fmt: skip
from service.paperwork.pdf import text_width_mm
from service.paperwork.units import Units, mass

WIDTH: Final = 62.0
HEIGHT: Final = 100.0
_MARGIN: Final = 3.0
_INNER: Final = WIDTH - 2 * _MARGIN
UN_DIGITS: Final = 6.0
"""49 CFR 172.301(a)(1) (2015 edition, read): the number's characters are at least 6 mm high on cylinders of up to 60 L
water capacity, 12 mm above [mm]."""
DIGIT_HEIGHT: Final = 0.71
"""Height of a digit in Helvetica Bold over the size of the font, by its metrics file [-]."""
UN_SIZE: Final = UN_DIGITS / DIGIT_HEIGHT
REDUCED: Final = "Hazard label reduced. For transport use one of 100 mm a side."


@dataclass(frozen=True, slots=True)
class LabelFacts:
    """What is printed.

    Parameters
    ----------
    serial : str
        Of the cylinder.
    headline : str
        The designation, or ``MIXED``, ``UNKNOWN``, ``EMPTY``.
    kind : str
        Words under it: ``recovered refrigerant``, the shares of a mixture, the candidates.
    alert : bool
        Printed white on black: mixed and unknown contents and a hold must not be overlooked.
    hazards : str
        What it may bring, in words; empty where nothing believable does.
    safety_class, un_number, shipping_name, hazard_division : str or None
        As the catalogue says.
    tare_kg, net_kg, gross_kg, limit_net_kg, limit_gross_kg : float or None
        Masses [kg].
    requalify_by : date or None
        Last day on which it may be filled.
    requalification_state : str
        ``current``, ``due-soon``, ``overdue``, ``unknown``, ``never``.
    marks, owner, url : str
        Stamped marks, owner, address of the cylinder's page.
    printed_on : date
        Day of printing; the label is right for that day.
    units : str
        ``inch-pound`` or ``si``.
    colour : bool
        Whether the hazard label is printed in color.
    """

    serial: str
    headline: str
    kind: str
    alert: bool
    safety_class: str | None
    hazards: str
    un_number: str | None
    shipping_name: str | None
    hazard_division: str | None
    tare_kg: float | None
    net_kg: float | None
    gross_kg: float | None
    limit_net_kg: float | None
    limit_gross_kg: float | None
    requalify_by: date | None
    requalification_state: str
    marks: str
    owner: str
    url: str
    printed_on: date
    units: Units = "inch-pound"
    colour: bool = True


def label(facts: LabelFacts) -> Drawing:
    """Draw one label."""
    shapes: list[Shape] = [Rect(0.6, 0.6, WIDTH - 1.2, HEIGHT - 1.2, None, BLACK, 0.3)]
    shapes += _head(facts)
    shapes += _hazard(facts)
    shapes += _weights(facts)
    shapes += _foot(facts)
    return Drawing(WIDTH, HEIGHT, tuple(shapes), f"Label of cylinder {facts.serial}: {facts.headline}")


def _head(facts: LabelFacts) -> list[Shape]:
    ink = WHITE if facts.alert else BLACK
    shapes: list[Shape] = [Rect(0.6, 0.6, WIDTH - 1.2, 22.4, BLACK)] if facts.alert else []
    text, size = fitted(text_width_mm, facts.headline, _INNER, 14.0, bold=True)
    lines = wrapped(text_width_mm, facts.kind, _INNER, 2.9, lines=2)
    middle = 9.2 if len(lines) < 2 else 8.0
    shapes.append(Text(WIDTH / 2, middle + 0.36 * size, text, size, True, "middle", ink))
    for number, line in enumerate(lines):
        shapes.append(Text(WIDTH / 2, middle + 9.4 + 3.5 * number, line, 2.9, False, "middle", ink))
    return [*shapes, Rect(0.6, 23.0, WIDTH - 1.2, 0.3, BLACK)]


def _hazard(facts: LabelFacts) -> list[Shape]:
    division = printable(facts.hazard_division)
    edge, top = 16.0, 24.6
    beside = _MARGIN
    shapes: list[Shape] = []
    if division is not None:
        shapes += hazard_diamond(_MARGIN - 0.6, top, edge, division, colour=facts.colour)
        beside = _MARGIN + edge * 2**0.5 + 1.2
    width = WIDTH - _MARGIN - beside
    number = facts.un_number or ("no UN number" if facts.shipping_name else "UN number not known")
    number, size = fitted(text_width_mm, number, width, UN_SIZE if facts.un_number else 6.0, bold=True)
    shapes.append(Text(beside, top + 6.4, number, size, True))
    y = top + 10.2
    name = facts.shipping_name or "shipping name not known"
    longest = max(name.split(), key=lambda word: text_width_mm(word, 2.7))
    _, small = fitted(text_width_mm, longest, width, 2.7)
    for row in wrapped(text_width_mm, name, width, small, lines=3):
        shapes.append(Text(beside, y, row, small))
        y += 3.1
    words = f"Class {facts.hazard_division or 'not known'}   ASHRAE 34 {facts.safety_class or 'not known'}"
    if facts.hazard_division is None and facts.shipping_name is not None:
        words = "no hazard label while it is clean"
    line, size = fitted(text_width_mm, words, width, 2.9, bold=True)
    shapes.append(Text(beside, top + (19.7 if facts.hazards else 20.8), line, size, True))
    if facts.hazards:
        line, size = fitted(text_width_mm, facts.hazards, width, 2.9, bold=True, smallest=1.3)
        shapes.append(Text(beside, top + 22.9, line, size, True))
    return [*shapes, Rect(0.6, 48.4, WIDTH - 1.2, 0.3, BLACK)]


def _weights(facts: LabelFacts) -> list[Shape]:
    """Masses as a small table; the gross limit, the figure to watch on the scale, stands in a box."""
    now, most = 37.0, WIDTH - _MARGIN - 0.8
    rows = (
        ("NET", facts.net_kg, facts.limit_net_kg, 57.0),
        ("GROSS", facts.gross_kg, facts.limit_gross_kg, 62.2),
    )
    shapes: list[Shape] = [
        Text(now, 52.0, "now", 2.5, False, "end"),
        Text(most, 52.0, "at most", 2.5, False, "end"),
        Rect(40.5, 58.3, WIDTH - _MARGIN - 40.5, 5.2, None, BLACK, 0.4),
    ]
    for name, present, limit, y in rows:
        shapes += [
            Text(_MARGIN, y, name, 3.0, True),
            Text(now, y, mass(present, facts.units), 3.9, True, "end"),
            Text(most, y, mass(limit, facts.units), 3.9, True, "end"),
        ]
    marks, size = fitted(text_width_mm, facts.marks, WIDTH - _MARGIN - 40.5, 3.0, bold=True)
    shapes += [
        Text(_MARGIN, 67.0, "TARE", 3.0, True),
        Text(now, 67.0, mass(facts.tare_kg, facts.units), 3.4, False, "end"),
        Text(most, 67.0, marks, size, True, "end"),
    ]
    return [*shapes, Rect(0.6, 68.4, WIDTH - 1.2, 0.3, BLACK)]


def _foot(facts: LabelFacts) -> list[Shape]:
    edge = 25.0
    left = WIDTH - _MARGIN - edge + 1.8
    width = left - _MARGIN - 0.6
    serial, size = fitted(text_width_mm, facts.serial, width, 5.0, bold=True)
    owner = wrapped(text_width_mm, facts.owner or "not recorded", width, 2.8, lines=2)
    shapes: list[Shape] = [
        code(facts.url, left, 68.9, edge),
        Text(_MARGIN, 72.2, "CYLINDER", 2.2, False, "start"),
        Text(_MARGIN, 76.7, serial, size, True),
        *_requalification(facts, width),
        Text(_MARGIN, 89.2, "OWNER", 2.2, False, "start"),
        *(Text(_MARGIN, 92.2 + 3.0 * row, line, 2.8) for row, line in enumerate(owner)),
    ]
    note = f"Printed {facts.printed_on.isoformat()}. " + (REDUCED if printable(facts.hazard_division) else "")
    text, note_size = fitted(text_width_mm, note.strip(), _INNER, 1.9, smallest=1.5)
    return [*shapes, Text(_MARGIN, 98.2, text, note_size, False, "start")]


def _requalification(facts: LabelFacts, width: float) -> list[Shape]:
    words = {
        "never": "DO NOT REFILL",
        "unknown": "date not known",
        "overdue": f"OVERDUE {facts.requalify_by}",
    }.get(facts.requalification_state, str(facts.requalify_by))
    serious = facts.requalification_state in {"never", "overdue", "unknown"}
    text, size = fitted(text_width_mm, words, width - (2.0 if serious else 0.0), 3.8, bold=True)
    shapes: list[Shape] = [Text(_MARGIN, 80.6, "FILL ONLY UNTIL (REQUALIFY)", 2.2, False, "start")]
    if serious:
        return [*shapes, Rect(_MARGIN, 81.4, width, 4.8, BLACK),
                Text(_MARGIN + 1.0, 85.1, text, size, True, "start", WHITE)]  # fmt: skip
    return [*shapes, Text(_MARGIN, 85.1, text, size, True)]
