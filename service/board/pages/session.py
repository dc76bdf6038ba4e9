"""Signing in and out, and what a person sets for themselves."""

from urllib.parse import urlsplit
from zoneinfo import available_timezones

import flask
from flask import redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from service.board import session
from service.board.blueprint import bp, done
from service.board.forms import Form
from service.board.languages.environment import ENGLISH, LANGUAGES
from service.board.pages.start import first_page
from service.board.throttle import FAILED, by_address, by_name, has_failed_lately, share_of_address
from service.operations import identities, organisation, people
from service.operations.support.errors import Invalid, NotAllowed, Unavailable

WRONG = "The name and the password do not belong together."
THEMES = ("auto", "light", "dark")


@bp.route("/sign-in", methods=["GET", "POST"])
@by_name
@by_address
def sign_in() -> Response | str | tuple[str, int] | tuple[str, int, dict[str, str]]:
    """Let somebody in; every kind of failure is answered alike."""
    form = Form(request.form if request.method == "POST" else {"next": request.args.get("next", "")})
    if request.method == "POST":
        login = form.text("login", "Name")
        password = form.values.get("password", "")
        if form.ok:
            try:
                with share_of_address():
                    first_try = not has_failed_lately()
                    person = people.sign_in(session.services(), login, password, first_try=first_try)
            except Unavailable as busy:
                form.refusals, form.refusal_title = [f"{busy} Try again in a moment."], "Not signed in"
                return _page(form), 503, {"Retry-After": str(busy.retry_after_s)}
            if person is not None:
                session.remember(person)
                return redirect(_inside(form.values.get("next", "")))
            form.refusals, form.refusal_title = [WRONG], "Not signed in"
        return _page(form), FAILED
    return _page(form)


def _page(form: Form) -> str:
    return render_template("sign_in.html", form=form, organisation=identities.offered(session.services()))


@bp.post("/sign-out")
def sign_out() -> Response:
    """End the session."""
    session.forget()
    return redirect(url_for("board.sign_in"))


@bp.route("/settings", methods=["GET", "POST"])
@session.sign_in_first
def settings() -> Response | str:
    """Units, theme and language."""
    form = Form(request.form if request.method == "POST" else {})
    if request.method == "POST":
        units = form.choice("units", "Units", (session.INCH_POUND, session.SI))
        theme = form.choice("theme", "Light or dark", THEMES)
        language = form.choice("language", "Language", tuple(LANGUAGES))
        if form.ok:
            me = session.actor()
            chosen = {"units": units, "theme": theme, "language": language}
            people.set_preferences(session.services(), me, me.person_id or 0, **chosen)
            done("Kept.")
            return redirect(url_for("board.settings"))
    return _settings_page(form)


@bp.post("/settings/time-zone")
@session.sign_in_first
def change_time_zone() -> Response | str:
    """Change the time zone by which the organisation counts its days."""
    form = Form(request.form)
    time_zone = form.text("time_zone", "Time zone", longest=64)
    if not session.may("administrator"):
        raise NotAllowed("Only an administrator changes the time zone.")
    if form.ok:
        try:
            organisation.change(session.services(), session.actor(), time_zone=time_zone)
        except Invalid as error:
            form.errors["time_zone"] = f"Time zone: {time_zone!r}, expected {error.errors[0].expected}"
        else:
            done("Saved.")
            return redirect(url_for("board.settings"))
    return _settings_page(form)


def _settings_page(form: Form) -> str:
    own = organisation.read(session.services(), session.actor())
    chosen = {"units": session.INCH_POUND, "theme": "auto", "language": ENGLISH, **session.preferences()}
    form.values = {**chosen, "time_zone": own.time_zone, **form.values}
    return render_template(
        "settings.html", form=form, languages=LANGUAGES, time_zones=sorted(available_timezones())
    )


@bp.post("/settings/password")
@session.sign_in_first
def change_password() -> Response | str:
    """Change one's own password; every other session of this person ends."""
    form = Form(request.form)
    me = session.person()
    if (
        me is None
        or people.sign_in(session.services(), me.login, form.values.get("old_password", "")) is None
    ):
        form.errors["old_password"] = "Present password: it is not this one"  # noqa: S105
    if me and form.ok:
        try:
            people.set_password(
                session.services(), session.actor(), me.id, form.values.get("new_password", "")
            )
        except Invalid as error:
            form.errors["new_password"] = f"New password: {error.errors[0].expected}"
    if form.ok:
        flask.session.clear()
        done("The password is changed. Sign in with the new one.")
        return redirect(url_for("board.sign_in"))
    form.values = {}
    return _settings_page(form)


def _inside(target: str) -> str:
    """Go on to a page of this board alone."""
    parts = urlsplit(target)
    inside = not parts.scheme and not parts.netloc and target.startswith("/") and "\\" not in target
    return target if inside and not target.startswith("//") else first_page()
