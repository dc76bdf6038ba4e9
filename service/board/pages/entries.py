"""What a phone entered without coverage: taken here, once, in its order; and the files that make it possible."""

from dataclasses import replace
from datetime import datetime
from importlib.resources import files

from flask import jsonify, render_template, request, url_for
from werkzeug.wrappers import Response

from service.board import session
from service.board.blueprint import asset, bp, done
from service.board.forms import Form
from service.board.pages.entry_forms import KINDS
from service.operations import entries
from service.operations.support.errors import NotFound, OperationError

SOURCES = ("board.js", "board.css", "mark.svg", "offline.js", "last_known.js", "phone_gateway.js")


@bp.get("/entries")
@session.sign_in_first
def entries_page() -> str:
    """Show what waits on this phone and what was not taken; its script knows, the service does not."""
    return render_template("entries.html")


@bp.get("/entries/token")
@session.sign_in_first
def entry_token() -> Response:
    """Say who is signed in, and with which token entries go out now; the page may be older than the session."""
    person = session.person()
    return jsonify(csrf=session.csrf_token(), person=person.id if person else 0)


@bp.post("/entries")
@session.sign_in_first
def take_entry() -> tuple[Response, int]:
    """Take one entry: 200 when it is taken or was before, 409 with the reasons when it is refused."""
    form, show = Form(request.form), session.show()
    key, serial = form.text("key", "Key", longest=64), form.text("serial", "Serial", longest=64)
    kind = form.choice("entered", "Kind", tuple(KINDS))
    inch_pound = form.values.get("units") == session.INCH_POUND
    # In the units that the form was shown in, whatever the person has chosen since.
    show = replace(show, inch_pound=inch_pound)
    take = KINDS[kind].read(form, show, serial) if form.ok else None
    at = _moment(form)
    if take is None or at is None:
        return jsonify(reasons=list(map(session.say, (*form.errors.values(), *form.refusals)))), 409
    try:
        entries.once(session.services(), session.actor(), key, at, take)
    except OperationError as error:
        set_aside = _set_aside(form, key, serial)
        return jsonify(reasons=list(map(session.say, session.refusals(error))), set_aside=set_aside), 409
    done(KINDS[kind].done.format(serial=serial))
    return jsonify(taken=True), 200


def _set_aside(form: Form, key: str, serial: str) -> bool:
    """Put a cylinder on hold that was filled without coverage: what the record refuses may be in it."""
    filled = form.values.get("entered") == "transfer" and form.values.get("direction") == "in"
    if not (filled and form.values.get("waited")):
        return False
    unit = replace(session.show(), inch_pound=form.values.get("units") == session.INCH_POUND).mass_unit
    mass, designation = f"{form.values.get('mass', '')} {unit}", form.values.get("designation", "")
    reason = f"{mass} of {designation} was entered without coverage and refused: it may be in the cylinder"
    try:
        entries.set_aside(session.services(), session.actor(), key, serial, reason)
    except NotFound:
        return False
    return True


def _moment(form: Form) -> datetime | None:
    try:
        at = datetime.fromisoformat(form.text("at", "Time", longest=40))
    except ValueError:
        form.errors["at"] = "Time: expected a date and time with its zone"
        return None
    if at.tzinfo is None:
        form.errors["at"] = "Time: its zone is missing"
        return None
    return at


@bp.get("/sw.js")
def service_worker() -> Response:
    """Send the service worker, with the addresses of the files that it keeps; it speaks for every page."""
    text = (files("service.board") / "static" / "sw.js").read_text(encoding="utf-8")
    kept = [asset(name) for name in SOURCES]
    body = text.replace("/* FILES */ []", repr(kept))
    return Response(body, mimetype="text/javascript", headers={"Cache-Control": "no-cache"})


@bp.get("/manifest.webmanifest")
def manifest() -> Response:
    """Say how the board is installed on a phone."""
    told = {
        "name": "Heelmark",
        "short_name": "Heelmark",
        "start_url": url_for("board.home"),
        "scope": "/",
        "display": "standalone",
        "background_color": "#f4f3ee",
        "theme_color": "#14222b",
        "icons": [{"src": asset("mark.svg"), "sizes": "any", "type": "image/svg+xml", "purpose": "any"}],
    }
    response = jsonify(told)
    response.mimetype = "application/manifest+json"
    return response
