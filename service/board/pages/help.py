"""The handbook, for whoever comes: it holds nothing of an organisation, so nobody signs in to read it."""

from flask import abort, make_response, render_template, url_for
from werkzeug.wrappers import Response

from service.board import handbook, session
from service.board.blueprint import POLICY, bp

STYLED = POLICY.replace("style-src 'self'", "style-src 'self' 'unsafe-inline'").replace(
    "worker-src 'self'", "worker-src 'self' blob:"
)
"""The viewer makes its style and the worker that searches while it runs; scripts and addresses stay our own."""


@bp.get("/help")
@bp.get("/help/<name>")
def help_page(name: str = "index") -> str:
    """Show a page of the handbook."""
    if name not in handbook.PAGES:
        abort(404, f"The handbook has no page {name!r}.")
    language = session.language()
    pages = [handbook.page(one, language) for one in handbook.PAGES]
    in_english = language != handbook.ENGLISH and name not in handbook.TRANSLATED
    return render_template(
        "help.html", page=handbook.page(name, language), contents=pages, in_english=in_english
    )


@bp.get("/help/api")
def help_api() -> Response:
    """Show every call of the interface, as its document describes it."""
    drawn = make_response(render_template("reference.html", document=url_for("api-docs.openapi_json")))
    drawn.headers["Content-Security-Policy"] = STYLED
    return drawn


@bp.get("/help/pictures/<name>")
def help_picture(name: str) -> Response:
    """Send a picture of the handbook."""
    if name not in handbook.PICTURES:
        abort(404, f"The handbook has no picture {name!r}.")
    return Response(
        handbook.picture(name), mimetype="image/png", headers={"Cache-Control": "public, max-age=3600"}
    )
