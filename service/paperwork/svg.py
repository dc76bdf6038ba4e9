"""Draws a page of shapes as SVG."""

from xml.sax.saxutils import escape, quoteattr

from service.paperwork.drawing import Cells, Drawing, Path, Polygon, Rect, Shape, Text
from service.paperwork.pdf import runs, text_width_mm


def svg(page: Drawing) -> str:
    """The page as an SVG document in millimetres."""
    body = "\n".join(_shape(shape) for shape in page.shapes)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{page.width:g}mm" height="{page.height:g}mm" '
        f'viewBox="0 0 {page.width:g} {page.height:g}" role="img" aria-label={quoteattr(page.title)} '
        f'font-family="Helvetica, Arial, sans-serif">\n<title>{escape(page.title)}</title>\n{body}\n</svg>\n'
    )


def _shape(shape: Shape) -> str:
    match shape:
        case Text():
            return _text(shape)
        case Rect():
            return (
                f'<rect x="{shape.x:.2f}" y="{shape.y:.2f}" width="{shape.width:.2f}" '
                f'height="{shape.height:.2f}"{_paint(shape.fill, shape.stroke, shape.stroke_width)}/>'
            )
        case Polygon():
            points = " ".join(f"{x:.3f},{y:.3f}" for x, y in shape.points)
            return f'<polygon points="{points}"{_paint(shape.fill, shape.stroke, shape.stroke_width)}/>'
        case Path():
            return f'<path d="{_commands(shape)}" fill="{shape.fill}"/>'
        case Cells():
            return _cells(shape)


def _text(shape: Text) -> str:
    """A line as wide as on paper: a browser without that font takes another, and wider letters would overrun."""
    weight = ' font-weight="bold"' if shape.bold else ""
    width = text_width_mm(shape.text, shape.size, bold=shape.bold)
    fit = f' textLength="{width:.2f}" lengthAdjust="spacingAndGlyphs"' if width > 0.0 else ""
    return (
        f'<text x="{shape.x:.2f}" y="{shape.y:.2f}" font-size="{shape.size:.2f}"{weight}{fit} '
        f'text-anchor="{shape.anchor}" fill="{shape.colour}">{escape(shape.text)}</text>'
    )


def _commands(shape: Path) -> str:
    words = [f"M{shape.start[0]:.3f} {shape.start[1]:.3f}"]
    for segment in shape.segments:
        letter = "L" if len(segment) == 1 else "C"
        words.append(letter + " ".join(f"{x:.3f} {y:.3f}" for x, y in segment))
    return " ".join([*words, "Z"])


def _cells(shape: Cells) -> str:
    commands = [
        f"M{shape.x + start * shape.cell:.3f} {shape.y + row * shape.cell:.3f}h{length * shape.cell:.3f}"
        f"v{shape.cell:.3f}h{-length * shape.cell:.3f}z"
        for row, cells in enumerate(shape.rows)
        for start, length in runs(cells)
    ]
    return f'<path d="{"".join(commands)}" fill="#000000" shape-rendering="crispEdges"/>'


def _paint(fill: str | None, stroke: str | None, stroke_width: float) -> str:
    painted = f' fill="{fill or "none"}"'
    if stroke is not None:
        painted += f' stroke="{stroke}" stroke-width="{stroke_width:.3f}"'
    return painted
