"""What every page needs of the request: who is signed in, their units, the token against forged forms."""

import hmac
import secrets
from collections.abc import Callable
from functools import wraps
from typing import Any, ParamSpec

from flask import abort, current_app, g, has_request_context, redirect, request, session, url_for
from werkzeug.wrappers import Response

from service.board.languages.environment import ENGLISH, LANGUAGES, said, said_phrase
from service.board.quantities import Quantities
from service.operations import people
from service.operations.support import events
from service.operations.support.context import Actor, Services
from service.operations.support.errors import (
    Conflict,
    FieldError,
    Invalid,
    NotAllowed,
    OperationError,
    Reason,
)
from service.settings import Settings
from service.store.people import Person

P = ParamSpec("P")
INCH_POUND, SI = "inch-pound", "si"


def services() -> Services:
    """Give what use cases may use."""
    found: Services = current_app.extensions["heelmark"]
    return found


def settings() -> Settings:
    """Give the settings of the running service."""
    found: Settings = current_app.extensions["heelmark-settings"]
    return found


def person() -> Person | None:
    """Give the signed-in person; looked up once a request."""
    if "person" not in g:
        g.person = None
        if (secret := session.get("session")) is not None:
            g.person = people.signed_in(services(), secret)
            if g.person is None:
                session.clear()
            else:
                g.actor = people.actor_of(g.person)  # for the log of requests
    found: Person | None = g.person
    return found


def actor() -> Actor:
    """Give the signed-in person as actor."""
    found = person()
    if found is None:
        abort(401)
    return people.actor_of(found)


def preferences() -> dict[str, Any]:
    """Give the signed-in person's preferences."""
    found = person()
    return (found.preferences or {}) if found else {}


def show() -> Quantities:
    """Give the writer of quantities in the person's units."""
    return Quantities(inch_pound=preferences().get("units", INCH_POUND) == INCH_POUND)


def language() -> str:
    """Give the person's language; before signing in the browser's, where the board speaks it. English otherwise."""
    if not has_request_context():
        return ENGLISH
    if "language" not in g:
        chosen = (
            preferences().get("language", ENGLISH)
            if person() is not None
            else request.accept_languages.best_match(tuple(LANGUAGES), ENGLISH)
        )
        g.language = chosen if chosen in LANGUAGES else ENGLISH
    found: str = g.language
    return found


def say(text: str) -> str:
    """Say a sentence of the board, of a rule or of a verdict in the person's language."""
    return said(text, language())


def phrase(msgid: str) -> str:
    """Say a phrase in the person's language, its places left open."""
    return said_phrase(msgid, language())


def may(*roles: str) -> bool:
    """Tell whether the person has one of the roles."""
    found = person()
    return found is not None and found.role in roles


def sign_in_first(view: Callable[P, Any]) -> Callable[P, Any]:
    """Send whoever is not signed in to the sign-in page; a stream that reconnects is only told so."""

    @wraps(view)
    def guarded(*args: P.args, **kwargs: P.kwargs) -> Any:
        if person() is None:
            # A stream that followed to the sign-in page would give the form that is open there a new token.
            if request.method != "GET" or request.accept_mimetypes.best == "text/event-stream":
                abort(401)
            return redirect(url_for("board.sign_in", next=request.full_path.rstrip("?")))
        if request.method in ("GET", "HEAD"):
            # A page shows one moment, and the stream tells what comes after it.
            with services().database.view(actor().organisation_id):
                return drawn(*args, **kwargs)
        return drawn(*args, **kwargs)

    def drawn(*args: P.args, **kwargs: P.kwargs) -> Any:
        # Taken before the page reads anything: what happens while it is drawn is then told by the stream.
        g.drawn_at, g.since = services().now(), events.newest_id(services(), actor())
        return view(*args, **kwargs)

    return guarded


def remember(found: Person) -> None:
    """Begin a session; what an earlier visitor left is dropped."""
    session.clear()
    session["session"] = people.begin_session(services(), found)
    g.person = found


def still_signed_in() -> Callable[[], bool]:
    """Give what tells, also after this request, whether its session goes on."""
    wired, secret = services(), session["session"]
    return lambda: people.signed_in(wired, secret) is not None


def forget() -> None:
    """End the session, here and on the server."""
    if (secret := session.get("session")) is not None:
        people.end_session(services(), secret)
    session.clear()


def csrf_token() -> str:
    """Give the token that every form of this session carries."""
    if "csrf" not in session:
        session["csrf"] = secrets.token_urlsafe(24)
    token: str = session["csrf"]
    return token


def refuse_forged() -> Response | None:
    """Refuse a write whose form does not carry the session's token."""
    if request.endpoint == "board.sign_in" and request.headers.get("Sec-Fetch-Site") == "same-origin":
        # Tabs that a browser opens together are each given a first token, and only the last one is kept. The browser
        # itself vouches for the form here, and there is no session yet that somebody could ride on.
        return None
    if request.method not in ("GET", "HEAD", "OPTIONS"):
        sent = request.form.get("csrf", "")
        if not hmac.compare_digest(sent.encode(), session.get("csrf", "").encode()) or not sent:
            abort(400, "This page was open for too long. Go back, load it again and repeat.")
    return None


def sentence(reason: Reason) -> str:
    """Write one broken rule: the numbers, the rule in words, where it is written and how that is known."""
    detail = f"{reason.detail[:1].upper()}{reason.detail[1:]}. " if reason.detail else ""
    source = ", ".join(part for part in (reason.source, reason.edition) if part and part != "-")
    known = f"; {reason.mark}" if reason.mark else ""
    return f"{detail}{reason.text}{f' ({source}{known})' if source else ''}"


def refusals(error: OperationError) -> list[str]:
    """Write a refusal as the sentences that a person reads, one a rule."""
    if isinstance(error, Conflict):
        return [sentence(reason) for reason in error.reasons]
    if isinstance(error, Invalid):
        return [_fault(e) for e in error.errors]
    if isinstance(error, NotAllowed):
        return [str(error) or "Your role does not allow this; ask a supervisor."]
    return [str(error)]


def _fault(error: FieldError) -> str:
    if error.bound_kg is None:
        return f"{error.field.replace('_', ' ')}: {error.value!r}, expected {error.expected}"
    mine = show()
    label = error.field.rpartition(".")[2].removesuffix("_kg").replace("_", " ").capitalize()
    return f"{label}: {mine.mass(error.value)}. Must be {error.relation}, {mine.mass(error.bound_kg)}."
