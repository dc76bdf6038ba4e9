"""The board's blueprint: what every page is given, and the headers that every page is sent with."""

import gzip
import hashlib
from datetime import UTC, datetime
from functools import cache
from importlib.resources import files

import structlog
from flask import Blueprint, flash, g, get_flashed_messages, make_response, render_template, request, url_for
from flask.sansio.blueprints import BlueprintSetupState
from markupsafe import Markup
from werkzeug.exceptions import HTTPException
from werkzeug.wrappers import Response

from service.board import handbook, phrases, session
from service.board.languages.environment import LanguageEnvironment, told
from service.board.throttle import limiter
from service.board.views.cards import NOWHERE
from service.operations import health, overview
from service.operations.support.errors import NotAllowed, NotFound, OperationError, Unavailable
from service.refrigerants.catalogue import UnknownRefrigerant
from service.refrigerants.curves import OutOfRange
from service.store.database import UNAVAILABLE

log = structlog.get_logger(__name__)

bp = Blueprint(
    "board", __name__, template_folder="templates", static_folder="static", static_url_path="/static"
)

PAGES = (
    ("board.rack", "Cylinders"),
    ("board.recoveries_page", "Recover"),
    ("board.alarms_page", "Alarms"),
    ("board.devices_page", "Devices"),
    ("board.register_cylinder", "Register"),
)
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self';"
    " manifest-src 'self'; worker-src 'self';"
    " form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
SMALL = 1400  # one packet
PRESSED = ("text/html", "text/css", "text/javascript", "image/svg+xml")
FORMATS = {"short": "%H:%M UTC", "clock": "%H:%M", "full": "%Y-%m-%d %H:%M UTC"}


@bp.record_once
def prepare(state: BlueprintSetupState) -> None:
    """Count attempts to sign in within this application."""
    settings = state.app.extensions["heelmark-settings"]
    state.app.config["RATELIMIT_STORAGE_URI"] = settings.limit_storage
    limiter.init_app(state.app)  # type: ignore[arg-type]
    environment = state.app.jinja_env
    assert isinstance(environment, LanguageEnvironment)  # noqa: S101
    environment.reader = session.language
    environment.globals["told"] = lambda text: told(text, session.language())


@bp.before_request
def guard() -> Response | None:
    """Refuse forged writes before any page sees them."""
    return session.refuse_forged()


@bp.after_request
def seal(response: Response) -> Response:
    """Forbid scripts and styles of others, framing, sniffing; keep pages of the signed-in out of caches."""
    response.headers.setdefault("Content-Security-Policy", POLICY)
    response.headers.setdefault("X-Content-Type-Options", "nosniff")
    response.headers.setdefault("Referrer-Policy", "same-origin")
    response.headers.setdefault("Permissions-Policy", "camera=(self), microphone=(), geolocation=()")
    if request.method == "POST" and response.status_code == 200 and response.mimetype == "text/html":
        # What is done is answered by another address; a page in answer to a form says why it was not done.
        response.status_code = 422
    if request.method == "POST" and response.status_code == 302:
        # Go and get that page: what is loaded again or gone back to sends nothing twice.
        response.status_code = 303
    if request.endpoint == "board.static":
        response.direct_passthrough = False
        response.headers["Cache-Control"] = "public, max-age=31536000, immutable"
    else:
        response.headers.setdefault("Cache-Control", "no-store")
    return compressed(response)


def compressed(response: Response) -> Response:
    """Press a page: a rack of 500 becomes thirty times smaller. Streams and small answers are left alone."""
    if (
        response.mimetype in PRESSED
        and response.status_code in (200, 422)
        and request.accept_encodings["gzip"] > 0
        and "Content-Encoding" not in response.headers
        and (response.content_length or 0) > SMALL
    ):
        response.set_data(gzip.compress(response.get_data(), compresslevel=5))
        response.headers["Content-Encoding"] = "gzip"
    response.vary.add("Accept-Encoding")
    return response


@bp.context_processor
def common() -> dict[str, object]:
    """Give every template the person, their units and the state of the stream."""
    person = session.person()
    given: dict[str, object] = {
        "person": person,
        "pages": PAGES,
        "show": session.show(),
        "theme": session.preferences().get("theme", "auto"),
        "asset": asset,
        "csrf_field": lambda: Markup('<input type="hidden" name="csrf" value="{}">').format(
            session.csrf_token()
        ),
        "notices": lambda: get_flashed_messages(category_filter=["done"]),
        "answered": answered,
        "scripted": {phrase: session.phrase(phrase) for phrase in phrases.SCRIPTED},
        "standing_cautions": phrases.STANDING_CAUTIONS,
        "help_addresses": ["/help", *(f"/help/{name}" for name in handbook.TASKS)],
        "open_alarms": 0,
        "troubles": [],
    }
    if person is not None:
        given["as_of"] = session.services().now()
        given["troubles"] = health.troubles(session.services())
        waiting = overview.waiting(session.services(), session.actor())
        given["open_alarms"], given["open_instructions"] = waiting.alarms, waiting.instructions
        given["stream_url"] = url_for("board.stream") if "since" in g else None
        given["drawn"], given["since"] = g.get("drawn_at"), g.get("since", 0)
    return given


@bp.app_template_filter("local")
def local(at: datetime, style: str) -> str:
    """Write an instant for readers without script; the page's script puts it into local time."""
    return at.astimezone(UTC).strftime(FORMATS[style])


bp.add_app_template_filter(phrases.actor, "actor")
bp.add_app_template_filter(lambda text: phrases.unbroken(session.say(text)), "unbroken")
bp.add_app_template_filter(phrases.sentence_case, "sentence_case")
# What a person wrote is shown as it was written: marking.py leaves it alone.
bp.add_app_template_filter(lambda text: text, "own")
bp.add_app_template_filter(lambda text: session.say(text) if text == NOWHERE else text, "place")


@cache
def _digest(name: str) -> str:
    return hashlib.sha256((files("service.board") / "static" / name).read_bytes()).hexdigest()[:12]


def asset(name: str) -> str:
    """Give the address of a static file; it changes with the content, so browsers may keep it for ever."""
    return url_for("board.static", filename=name, v=_digest(name))


def _page(title: str, text: str) -> str:
    return render_template("problem.html", title=title, text=text)


@bp.errorhandler(NotFound)
def not_found(error: NotFound) -> tuple[str, int]:
    """Say what there is not."""
    return _page("Not here", str(error)), 404


@bp.errorhandler(OperationError)
def refused(error: OperationError) -> tuple[str, int] | tuple[str, int, dict[str, str]]:
    """Say why it was not done, where no form is there to say it in."""
    if isinstance(error, Unavailable):
        return _page("Not now", str(error)), 503, {"Retry-After": str(error.retry_after_s)}
    code = 403 if isinstance(error, NotAllowed) else 409
    return _page("Not done", " ".join(session.refusals(error))), code


def unavailable(error: Exception) -> tuple[str, int, dict[str, str]]:
    """Say that nothing can be read or kept at this moment, without asking the database for anything."""
    cause = getattr(error, "orig", None) or error
    log.warning("database.unavailable", path=request.path, cause=f"{type(cause).__name__}: {cause}"[:200])
    g.person = None
    text = "The database cannot be used at this moment; nothing was saved. Try again in a few seconds."
    return _page("Not now", text), 503, {"Retry-After": "10"}


for _kind in UNAVAILABLE:
    bp.register_error_handler(_kind, unavailable)


for _kind in (UnknownRefrigerant, OutOfRange):
    bp.register_error_handler(_kind, lambda error: (_page("Not done", str(error)), 409))


@bp.errorhandler(Exception)
def broken(error: Exception) -> tuple[str, int]:
    """Say that a page failed: nothing of the fault is shown, all of it is logged."""
    log.error("page.failed", path=request.path, method=request.method, exc_info=error)
    g.person = None
    text = (
        "This page failed; the operator finds the cause in the log. If you have just entered something, look"
        " whether it was kept before you enter it again."
    )
    return _page("It failed", text), 500


def lost(error: HTTPException) -> Response:
    """Answer a browser at an address that is no page and no call, in the board's own frame."""
    text = render_template("problem.html", **common(), title="Not here", text="There is no such page.")
    return seal(make_response(text, error.code or 404))


@bp.errorhandler(HTTPException)
def faulty(error: HTTPException) -> tuple[str, int]:
    """Say what went wrong in the board's own frame."""
    title = {401: "Sign in again", 404: "Not here"}.get(error.code or 500, "Not done")
    return _page(title, error.description or ""), error.code or 500


def done(text: str) -> None:
    """Show a line on the next page, which also tells a phone that the entry it sent again was answered."""
    flash(text, "done")
    if entry := request.form.get("entry"):
        flash(entry, "entry")


def answered() -> str:
    """Name the entry of a phone that this page answers: it was sent again as a form, and is kept until then."""
    flashed = get_flashed_messages(category_filter=["entry"])
    return str(flashed[0]) if flashed else ""
