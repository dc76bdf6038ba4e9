"""What a problem's ``type`` leads to: a page for people, the same as JSON for programs; nobody signs in to read it."""

from dataclasses import asdict

from flask import abort, jsonify, render_template, request
from werkzeug.wrappers import Response

from service.board.blueprint import bp
from service.problem_types import PROBLEM_TYPES, ProblemType


@bp.get("/problems")
def problem_types() -> Response | str:
    """List every type of problem."""
    if _wants_page():
        return render_template("problems.html", types=PROBLEM_TYPES.values(), heading="Problems")
    return _kept([_told(one) for one in PROBLEM_TYPES.values()])


@bp.get("/problems/<slug>")
def problem_type(slug: str) -> Response | str:
    """Tell one type of problem."""
    found = PROBLEM_TYPES.get(slug)
    if found is None:
        abort(404, f"There is no type of problem {slug!r}; /problems lists them.")
    if _wants_page():
        return render_template("problems.html", types=[found], heading=f"Problem: {found.slug}")
    return _kept(_told(found))


def _told(one: ProblemType) -> dict[str, object]:
    return {"type": one.uri, **asdict(one)}


def _kept(told: object) -> Response:
    response = jsonify(told)
    response.headers["Cache-Control"] = "public, max-age=3600"
    response.vary.add("Accept")
    return response


def _wants_page() -> bool:
    return request.accept_mimetypes.best_match(["application/json", "text/html"]) == "text/html"
