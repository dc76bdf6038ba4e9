"""Signing in with the organisation's own provider: there and back again."""

from dataclasses import asdict

import structlog
from flask import current_app, redirect, render_template, request, url_for
from itsdangerous import BadData, URLSafeTimedSerializer
from werkzeug.wrappers import Response

from service.board import session
from service.board.blueprint import bp
from service.board.forms import Form
from service.board.pages.start import first_page
from service.operations import identities
from service.operations.identities import ProviderFailed
from service.operations.support.errors import NotAllowed
from service.outbound.openid import Started

COOKIE = "heelmark-sign-in"
LASTS_S = 600
FAILED = 403
DID_NOT_HOLD = (
    "The sign-in with your organisation did not work. Begin again; if it happens again, tell your supervisor."
)

log = structlog.get_logger(__name__)


@bp.get("/sign-in/with/<organisation>")
def sign_in_with(organisation: str) -> Response | tuple[str, int]:
    """Send the browser to the organisation's provider."""
    try:
        started = identities.begin(session.services(), organisation, _back())
    except ProviderFailed as failure:
        return _refused(DID_NOT_HOLD, str(failure))
    response = redirect(started.url)
    kept = _serializer().dumps({"organisation": organisation, **asdict(started)})
    # Lax, unlike the session: the browser comes back from another site, and must still know what it began.
    response.set_cookie(
        COOKIE,
        kept,
        max_age=LASTS_S,
        path=url_for("board.signed_in_with"),
        httponly=True,
        samesite="Lax",
        secure=bool(current_app.config["SESSION_COOKIE_SECURE"]),
    )
    return response


@bp.get("/sign-in/back")
def signed_in_with() -> Response | tuple[str, int]:
    """Let in whoever comes back with an answer that holds."""
    try:
        begun = _serializer().loads(request.cookies.get(COOKIE, ""), max_age=LASTS_S)
        organisation = begun.pop("organisation")
        person = identities.complete(session.services(), organisation, _back(), Started(**begun), request.url)
    except (BadData, ProviderFailed) as failure:
        return _refused(DID_NOT_HOLD, str(failure))
    except NotAllowed as refusal:
        return _refused(str(refusal), "no account")
    session.remember(person)
    # A page, not a redirect: what another site led to carries no strict cookie, what this page leads to does.
    response = current_app.make_response(render_template("signed_in.html", begin=first_page()))
    response.delete_cookie(COOKIE, path=url_for("board.signed_in_with"))
    return response


def _back() -> str:
    return f"{session.settings().public_url.rstrip('/')}{url_for('board.signed_in_with')}"


def _serializer() -> URLSafeTimedSerializer:
    return URLSafeTimedSerializer(str(current_app.secret_key), salt="sign-in with a provider")


def _refused(text: str, why: str) -> tuple[str, int]:
    log.warning("identity.sign_in_refused", why=why)
    form = Form({})
    form.refusals, form.refusal_title = [text], "Not signed in"
    return render_template("sign_in.html", form=form), FAILED
