"""Labels for a cylinder, as a picture and to print."""

from flask import Response

from service.board import session
from service.board.blueprint import bp
from service.operations import paper
from service.operations.paper import Paper, Wish
from service.operations.support.judgements import Judged
from service.paperwork.label import label
from service.paperwork.pdf import pdf
from service.paperwork.sheets import printer_label, single_page
from service.paperwork.svg import svg
from service.paperwork.units import Units


@bp.get("/cylinders/<serial>/label.svg")
@session.sign_in_first
def label_svg(serial: str) -> Response:
    """Show the label."""
    return _sent(svg(label(found(serial).label)).encode(), "image/svg+xml", f"label-{serial}.svg")


@bp.get("/cylinders/<serial>/label.pdf")
@session.sign_in_first
def label_pdf(serial: str) -> Response:
    """Print the label alone, 62 by 100 mm."""
    page = label(found(serial).label)
    return _sent(pdf([page], title=page.title), "application/pdf", f"label-{serial}.pdf")


@bp.get("/cylinders/<serial>/label-4x6in.pdf")
@session.sign_in_first
def printer_label_pdf(serial: str) -> Response:
    """Print the label alone, 4 by 6 in."""
    page = printer_label(found(serial).label)
    return _sent(pdf([page], title=page.title), "application/pdf", f"label-4x6in-{serial}.pdf")


@bp.get("/cylinders/<serial>/label-page.pdf")
@session.sign_in_first
def label_page(serial: str) -> Response:
    """Print a page: label, shipping description, hazard label at full size."""
    one = found(serial)
    description = one.shipping.text or "; ".join(one.shipping.notes)
    page = single_page(one.label, description, "letter" if session.show().inch_pound else "a4")
    return _sent(pdf([page], title=page.title), "application/pdf", f"label-page-{serial}.pdf")


def found(serial: str) -> Paper:
    """Look up the paper of a cylinder, in the person's units."""
    return paper.of(session.services(), session.actor(), serial, _wish())


def of_judged(judged: Judged) -> Paper:
    """Give the paper of a cylinder that the page has judged."""
    return paper.of_judged(session.services(), session.actor(), judged, _wish())


def _wish() -> Wish:
    units: Units = "inch-pound" if session.show().inch_pound else "si"
    return Wish(session.settings().public_url.rstrip("/"), units)


def _sent(body: bytes, media_type: str, name: str) -> Response:
    # Header values are Latin-1: a serial may be anything.
    safe = "".join(c if c.isascii() and (c.isalnum() or c in "-._") else "_" for c in name)
    response = Response(body, content_type=media_type)
    response.headers["Content-Disposition"] = f'inline; filename="{safe}"'
    return response
