"""Causes that need somebody, and who has seen them."""

from collections.abc import Sequence

from flask import redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from service.board import session
from service.board.blueprint import bp, done
from service.board.views.alarms import AlarmsPage, Opened
from service.board.views.alarms import alarms_page as view
from service.operations import alarms
from service.store.alarms import Alarm
from service.store.paging import PageRequest

SHOWN, RECENT = 40, 20
NOTHING_OPENED = Opened("", (), None)


@bp.get("/alarms")
@session.sign_in_first
def alarms_page() -> str:
    """Show what stands, one line a cause, and what is over since."""
    services, actor = session.services(), session.actor()
    code, after = request.args.get("cause", ""), request.args.get("after", type=int)
    opened = NOTHING_OPENED
    if code:
        some = alarms.listed(services, actor, PageRequest(SHOWN, after), open_only=True, code=code)
        opened = Opened(code, some.items, some.next)
    recent = alarms.listed(services, actor, PageRequest(RECENT), open_only=False).items
    over = [alarm for alarm in recent if alarm.cleared_at is not None]
    return render_template("causes.html", page=standing(opened, over))


def standing(opened: Opened = NOTHING_OPENED, over: Sequence[Alarm] = (), shown: int = SHOWN) -> AlarmsPage:
    """Give what stands now: so many dangers, and each cause with its count."""
    services, actor = session.services(), session.actor()
    counts = alarms.causes(services, actor)
    dangers = alarms.listed(services, actor, PageRequest(shown), open_only=True, severity="critical").items
    return view(counts, dangers, over, opened, services.now())


@bp.post("/alarms/<int:alarm_id>/acknowledgement")
@session.sign_in_first
def acknowledge(alarm_id: int) -> Response:
    """Note who has seen it."""
    alarm = alarms.acknowledge(session.services(), session.actor(), alarm_id)
    done(f"Acknowledged: {alarm.text}")
    return redirect(url_for("board.alarms_page"), 303)


@bp.post("/alarms/<code>/acknowledgements")
@session.sign_in_first
def acknowledge_cause(code: str) -> Response:
    """Note who has seen every cylinder under one cause; a danger is acknowledged alone."""
    number = alarms.acknowledge_cause(session.services(), session.actor(), code)
    done(f"Acknowledged: {number}. A cause ends only with what brought it about.")
    return redirect(url_for("board.alarms_page"), 303)
