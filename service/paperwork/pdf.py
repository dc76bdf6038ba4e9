"""Draws pages of shapes into a PDF, in the fonts that every reader has."""

import io
from collections.abc import Iterable
from typing import Final

from reportlab.lib.colors import HexColor
from reportlab.lib.units import mm
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas

from service.paperwork.drawing import Cells, Drawing, Path, Polygon, Rect, Shape, Text

_FONTS: Final = {False: "Helvetica", True: "Helvetica-Bold"}


def latin(text: str) -> str:
    """Text in the characters that the built-in fonts have (Windows-1252); others become a question mark."""
    return text.encode("cp1252", errors="replace").decode("cp1252")


def text_width_mm(text: str, size_mm: float, *, bold: bool = False) -> float:
    """Width of a text in the built-in font [mm]."""
    return float(stringWidth(latin(text), _FONTS[bold], size_mm * mm) / mm)


def pdf(pages: Iterable[Drawing], *, title: str) -> bytes:
    """The pages as a PDF; the same shapes give the same bytes."""
    buffer = io.BytesIO()
    canvas = Canvas(buffer, invariant=1)
    canvas.setTitle(latin(title))
    canvas.setCreator("Heelmark")
    for page in pages:
        canvas.setPageSize((page.width * mm, page.height * mm))
        for shape in page.shapes:
            _draw(canvas, shape, page.height)
        canvas.showPage()
    canvas.save()
    return buffer.getvalue()


def _draw(canvas: Canvas, shape: Shape, height: float) -> None:
    match shape:
        case Text():
            _draw_text(canvas, shape, height)
        case Rect():
            _paint(canvas, shape.fill, shape.stroke, shape.stroke_width)
            canvas.rect(
                shape.x * mm, (height - shape.y - shape.height) * mm, shape.width * mm, shape.height * mm,
                fill=int(shape.fill is not None), stroke=int(shape.stroke is not None),
            )  # fmt: skip
        case Polygon() | Path():
            _draw_path(canvas, shape, height)
        case Cells():
            _draw_cells(canvas, shape, height)


def _draw_text(canvas: Canvas, shape: Text, height: float) -> None:
    canvas.setFillColor(HexColor(shape.colour))
    canvas.setFont(_FONTS[shape.bold], shape.size * mm)
    draw = {"start": canvas.drawString, "middle": canvas.drawCentredString, "end": canvas.drawRightString}
    draw[shape.anchor](shape.x * mm, (height - shape.y) * mm, latin(shape.text))


def _draw_path(canvas: Canvas, shape: Polygon | Path, height: float) -> None:
    def at(point: tuple[float, float]) -> tuple[float, float]:
        return point[0] * mm, (height - point[1]) * mm

    path = canvas.beginPath()
    if isinstance(shape, Polygon):
        path.moveTo(*at(shape.points[0]))
        for point in shape.points[1:]:
            path.lineTo(*at(point))
        _paint(canvas, shape.fill, shape.stroke, shape.stroke_width)
    else:
        path.moveTo(*at(shape.start))
        for segment in shape.segments:
            if len(segment) == 1:
                path.lineTo(*at(segment[0]))
            else:
                path.curveTo(*at(segment[0]), *at(segment[1]), *at(segment[2]))
        _paint(canvas, shape.fill, None, 0.0)
    path.close()
    stroke = isinstance(shape, Polygon) and shape.stroke is not None
    canvas.drawPath(path, fill=int(shape.fill is not None), stroke=int(stroke))


def _draw_cells(canvas: Canvas, shape: Cells, height: float) -> None:
    canvas.setFillColor(HexColor("#000000"))
    for row, cells in enumerate(shape.rows):
        for start, length in runs(cells):
            canvas.rect(
                (shape.x + start * shape.cell) * mm, (height - shape.y - (row + 1) * shape.cell) * mm,
                length * shape.cell * mm, shape.cell * mm, fill=1, stroke=0,
            )  # fmt: skip


def runs(cells: tuple[int, ...]) -> list[tuple[int, int]]:
    """Runs of ones in a row as (start, length), so that no seams show between cells."""
    found: list[tuple[int, int]] = []
    for index, cell in enumerate(cells):
        if cell and found and found[-1][0] + found[-1][1] == index:
            found[-1] = (found[-1][0], found[-1][1] + 1)
        elif cell:
            found.append((index, 1))
    return found


def _paint(canvas: Canvas, fill: str | None, stroke: str | None, stroke_width: float) -> None:
    if fill is not None:
        canvas.setFillColor(HexColor(fill))
    if stroke is not None:
        canvas.setStrokeColor(HexColor(stroke))
        canvas.setLineWidth(stroke_width * mm)
