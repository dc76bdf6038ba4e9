"""The two-dimensional code that leads from the label to the cylinder's page."""

import segno

from service.paperwork.drawing import Cells


def code(url: str, x: float, y: float, edge: float) -> Cells:
    """QR code (ISO/IEC 18004) of an address in a square [mm], error level M, quiet zone inside."""
    symbol = segno.make_qr(url, error="m", boost_error=False)
    rows = tuple(tuple(int(bool(cell)) for cell in row) for row in symbol.matrix)
    cell = edge / (len(rows) + 8)
    return Cells(x + 4 * cell, y + 4 * cell, cell, rows)
