"""What happens in a closed van or room if everything in it came out."""

from flask import render_template, request

from service.board import session
from service.board.blueprint import bp
from service.board.forms import Form
from service.board.quantities import FOOT_M, SPACE
from service.board.views.release import ReleaseView, release_view
from service.operations import release
from service.operations.support.errors import OperationError

LARGEST_M3 = 100_000.0


@bp.get("/places/<place>/release")
@session.sign_in_first
def release_page(place: str) -> str:
    """Ask for the volume, tell the concentration."""
    form, unit_m3, unit = Form(request.args), *_unit()
    answer: ReleaseView | None = None
    if "volume" in request.args:
        label = "Volume of the closed space"
        volume = form.number("volume", label, above=0.0, at_most=LARGEST_M3 / unit_m3)
        if volume is not None:
            try:
                found = release.of_place(
                    session.services(), session.actor(), place, volume * unit_m3, elevation_m=None
                )
            except OperationError as error:
                form.refusals = session.refusals(error)
            else:
                answer = release_view(found)
    return render_template("release.html", form=form, place=place, unit=unit, answer=answer)


def _unit() -> tuple[float, str]:
    return (FOOT_M**3, f"cu{SPACE}ft") if session.show().inch_pound else (1.0, "m³")
