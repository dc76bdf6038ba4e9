"""Alarms and their acknowledgement."""

from flask import redirect, render_template, url_for
from werkzeug.wrappers import Response

from service.board import session
from service.board.blueprint import bp, done
from service.board.views.alarms import alarms_page as view
from service.operations import alarms
from service.store.paging import LARGEST_PAGE, PageRequest


@bp.get("/alarms")
@session.sign_in_first
def alarms_page() -> str:
    """Show what stands, and what is over since."""
    services, actor = session.services(), session.actor()
    standing = alarms.listed(services, actor, PageRequest(LARGEST_PAGE), standing_only=True).items
    recent = alarms.listed(services, actor, PageRequest(30), standing_only=False).items
    over = [alarm for alarm in recent if alarm.cleared_at is not None]
    return render_template("alarms.html", page=view([*standing, *over]))


@bp.post("/alarms/<int:alarm_id>/acknowledgement")
@session.sign_in_first
def acknowledge(alarm_id: int) -> Response:
    """Note who has seen it."""
    alarm = alarms.acknowledge(session.services(), session.actor(), alarm_id)
    done(f"Acknowledged: {alarm.text}")
    return redirect(url_for("board.alarms_page"))
