"""Shops, vans and sites, with the elevation that gauge readings are corrected by."""

from flask import redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from service.board import session
from service.board.blueprint import bp, done
from service.board.forms import Form
from service.board.quantities import FOOT_M
from service.codes import PlaceKind
from service.cylinders.books import BOOKS
from service.operations import places
from service.operations.places import PlaceChange
from service.operations.support.errors import NotAllowed, OperationError
from service.store.paging import LARGEST_PAGE, PageRequest

OWNERS = "organisation"
KINDS: tuple[str, ...] = tuple(PlaceKind)
MAY_CHANGE = ("supervisor", "administrator")


@bp.route("/places", methods=["GET", "POST"])
@session.sign_in_first
def places_page() -> Response | str:
    """See the places, and add one or correct its elevation."""
    services, actor = session.services(), session.actor()
    form = Form(request.form if request.method == "POST" else {"kind": "van"})
    known = places.listed(services, actor, PageRequest(LARGEST_PAGE)).items
    if request.method == "POST":
        if not session.may(*MAY_CHANGE):
            raise NotAllowed("Only a supervisor changes places.")
        name, kind = form.text("name", "Name", longest=80), form.choice("kind", "Kind", KINDS)
        elevation_m, law = _elevation_m(form), form.choice("rule_book", "Law", ("", OWNERS, *BOOKS))
        if form.ok:
            try:
                if name not in {place.name for place in known}:
                    places.create(services, actor, name=name, kind=kind, elevation_m=elevation_m)
                changes: PlaceChange = {"elevation_m": elevation_m}
                if law:
                    changes["rule_book"] = None if law == OWNERS else law
                places.change(services, actor, name, changes)
            except OperationError as error:
                form.refusals = session.refusals(error)
            else:
                done(f"{name} is kept.")
                return redirect(url_for("board.places_page"))
    return render_template(
        "places.html",
        form=form,
        places=known,
        may_change=session.may(*MAY_CHANGE),
        laws=[
            ("", "leave it as it is"),
            (OWNERS, "that of the whole organisation"),
            *((code, book.name) for code, book in BOOKS.items()),
        ],
        books=BOOKS,
    )


def _elevation_m(form: Form) -> float | None:
    unit_m = FOOT_M if session.show().inch_pound else 1.0
    low, high = round(-500.0 / unit_m), round(9000.0 / unit_m)
    value = form.number("elevation", "Elevation", required=False, above=low, at_most=high)
    return None if value is None else value * unit_m
