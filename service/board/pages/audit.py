"""Who did what, across the fleet."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

from flask import render_template, request, url_for

from service.board import phrases, session
from service.board.blueprint import bp
from service.board.event_text import happening
from service.board.forms import Form
from service.board.quantities import Quantities
from service.operations import audit, organisation
from service.operations.audit import Filter
from service.operations.support import events
from service.operations.support.errors import NotAllowed
from service.store.events import Event
from service.store.paging import PageRequest

MAY_READ = ("supervisor", "administrator")
SHOWN = 50
KINDS = (
    ("", "everything"),
    (events.CYLINDER_CHANGED, "cylinders changed"),
    (events.TRANSFER_RECORDED, "transfers"),
    (events.PAIR_RECORDED, "settled readings"),
    (events.ALARM_RAISED, "alarms"),
    (events.ALARM_ACKNOWLEDGED, "alarms seen"),
    (events.HOOKUP_CHANGED, "devices hooked up or taken off"),
)


@dataclass(frozen=True, slots=True)
class Line:
    """One thing that somebody did."""

    at: datetime
    who: str
    text: str
    serial: str


@bp.get("/who")
@session.sign_in_first
def audit_page() -> str:
    """Show who did what, newest first; what is asked for stays in the address."""
    if not session.may(*MAY_READ):
        raise NotAllowed("Only a supervisor reads who did what.")
    services, actor = session.services(), session.actor()
    form = Form(request.args.to_dict())
    start, end = _day(form, ZoneInfo(organisation.read(services, actor).time_zone))
    wanted = Filter(
        actor=_prefixed("person:", form.text("who", "Who", required=False)),
        subject=_prefixed("cylinders/", form.text("cylinder", "Cylinder", required=False)),
        type=form.text("what", "What", required=False) or None,
        start=start,
        end=end,
    )
    page = audit.listed(services, actor, PageRequest(SHOWN, request.args.get("after", type=int)), wanted)
    asked = {name: form.values[name] for name in ("who", "cylinder", "what", "day") if form.values.get(name)}
    more = f"{url_for('board.audit_page')}?{urlencode({**asked, 'after': page.next})}" if page.next else None
    lines = [_line(event, session.show()) for event in page.items]
    return render_template("audit.html", form=form, lines=lines, more=more, kinds=KINDS)


def _prefixed(prefix: str, text: str) -> str | None:
    if not text:
        return None
    return text if text.startswith(prefix) or ":" in text else prefix + text


def _day(form: Form, zone: ZoneInfo) -> tuple[datetime | None, datetime | None]:
    """From midnight to midnight where the shop is."""
    text = form.text("day", "Day", required=False, longest=10)
    if not text:
        return None, None
    try:
        day = date.fromisoformat(text)
    except ValueError:
        form.errors["day"] = f"Day: {text!r}, expected a date such as 2026-05-04"
        return None, None
    begins, ends = (
        datetime(one.year, one.month, one.day, tzinfo=zone) for one in (day, day + timedelta(days=1))
    )
    return begins, ends


def _line(event: Event, show: Quantities) -> Line:
    serial = event.subject.removeprefix("cylinders/") if event.subject.startswith("cylinders/") else ""
    serial = serial or str(event.data.get("cylinder") or "")
    text = happening(event.type, event.data, show)
    if text == event.type:
        text = f"{event.type.removeprefix('heelmark.').replace('.', ' ').capitalize()}: {event.subject}"
    return Line(event.at, phrases.actor(event.actor), text, serial)
