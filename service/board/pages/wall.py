"""A screen on the wall of the shop: every cylinder at once, and it needs no hand."""

from flask import render_template

from service.board import session
from service.board.blueprint import bp
from service.board.pages.alarms import standing
from service.board.views.wall import wall_page
from service.operations import fleet


@bp.get("/wall")
@session.sign_in_first
def wall() -> str:
    """Show every cylinder as a tile, dangers and causes beside them."""
    page = wall_page(fleet.wall(session.services(), session.actor()), standing(shown=8))
    return render_template("wall.html", page=page)
