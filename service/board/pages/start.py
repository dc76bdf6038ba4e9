"""The technician's first page asks what he is about to do; his place and his gauge set are remembered."""

from collections.abc import Sequence

from flask import redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from service.board import session
from service.board.blueprint import bp
from service.board.views import recovery as recovery_views
from service.board.views import start as views
from service.board.views.cards import fill_text, headline
from service.board.views.devices import set_options
from service.operations import alarms, devices, fleet, hookups, overview, people, recovery_state
from service.operations.support.judgements import Judged
from service.store.devices import Device
from service.store.fleet import Wanted
from service.store.hookups import Hookup
from service.store.paging import LARGEST_PAGE, PageRequest

MOST_GOING_ON = 2
"""So many recoveries of one person are offered to go on with [-]."""


def first_page() -> str:
    """Give where somebody begins: a technician with the task, everybody else with the cylinders."""
    return url_for("board.start_page" if session.may("technician") else "board.rack")


@bp.get("/")
def home() -> Response:
    """Begin where this person begins."""
    return redirect(first_page())


@bp.get("/start")
@session.sign_in_first
def start_page() -> str:
    """Ask what he is about to do; for the script that follows the set, that line alone."""
    services, actor, show = session.services(), session.actor(), session.show()
    known = devices.listed(services, actor, PageRequest(LARGEST_PAGE), attached=None).items
    mine = my_gauge_set(known)
    if request.args.get("only") == "set":
        return render_template("parts/my_set.html", mine=mine)
    places, place = overview.places(services, actor), my_place()
    here = _here(place)
    found = alarms.listed(
        services, actor, PageRequest(LARGEST_PAGE), open_only=True, place=place or None
    ).items
    free = [device for device in known if not device.attached]
    return render_template(
        "start.html", place=place, places=places, mine=mine, attention=views.attention(found),
        sets=set_options(hookups.sets(services, actor), free, show), going_on=_going_on(),
        room=views.room(here) if place else "", leaving=views.leaving(here) if place else "",
        ahead=[url_for("board.cylinder", serial=one.row.serial) for one in here],
    )  # fmt: skip


@bp.post("/start/place")
@session.sign_in_first
def choose_place() -> Response:
    """Remember where he is; a place that is not there any more is no place."""
    services, actor = session.services(), session.actor()
    chosen = request.form.get("place", "")
    remember(place=chosen if chosen in overview.places(services, actor) else None)
    return redirect(url_for("board.start_page"), 303)


@bp.post("/start/set")
@session.sign_in_first
def choose_set() -> Response:
    """Remember his gauge and clamp."""
    chosen = request.form.get("set", "")
    for one in hookups.sets(session.services(), session.actor()):
        if str(one.id) == chosen:
            remember_set(one.pressure_device, one.temperature_device)
    return redirect(url_for("board.start_page"), 303)


@bp.get("/hand-over")
@session.sign_in_first
def hand_over() -> str:
    """Choose what is handed over: what may go from this place."""
    place, show = my_place(), session.show()
    rows = [
        (one.row.serial, headline(one.judgement)[0], fill_text(one.judgement, show))
        for one in views.may_go(_here(place))
    ]
    return render_template("hand_over.html", place=place, rows=rows)


@bp.post("/hand-over")
@session.sign_in_first
def hand_over_typed() -> Response:
    """Go on with a serial that was typed."""
    serial = overview.one(
        session.services(), session.actor(), request.form.get("serial", "").strip()
    ).row.serial
    return redirect(url_for("board.exchange", serial=serial), 303)


def my_place() -> str:
    """Give where this person is: as chosen, else the only place that there is; empty where nobody said."""
    places = overview.places(session.services(), session.actor())
    chosen = session.preferences().get("place") or ""
    return chosen if chosen in places else places[0] if len(places) == 1 else ""


def my_set() -> tuple[str, str]:
    """Give the names of this person's gauge and clamp; empty where none was hooked up yet."""
    chosen = session.preferences()
    return chosen.get("gauge") or "", chosen.get("clamp") or ""


def remember_set(gauge: str, clamp: str) -> None:
    """Remember which gauge and clamp this person works with."""
    remember(gauge=gauge, clamp=clamp)


def remember(**chosen: str | None) -> None:
    """Keep what this person chose, for every phone that he signs in on."""
    actor = session.actor()
    people.set_preferences(session.services(), actor, actor.person_id or 0, **chosen)


def set_of(together: Sequence[Hookup]) -> str:
    """Give the one of these sets that is this person's; empty where none is."""
    mine = my_set()
    found = [str(one.id) for one in together if (one.pressure_device, one.temperature_device) == mine]
    return found[0] if found else ""


def _here(place: str) -> list[Judged]:
    if not place:
        return []
    return fleet.listed(session.services(), session.actor(), Wanted(place=place)).judged


def my_gauge_set(known: Sequence[Device]) -> views.GaugeSet | None:
    """Give this person's gauge set with what it says now, of all devices that are known."""
    named = {device.name: device for device in known}
    gauge, clamp = (named.get(name) for name in my_set())
    services, actor = session.services(), session.actor()
    hookup = gauge.hookup_id if gauge is not None else None
    serial = None if hookup is None else hookups.read(services, actor, hookup).cylinder
    return views.gauge_set(gauge, clamp, serial, services.now(), session.show())


def _going_on() -> list[views.GoingOn]:
    services, actor, show, person = session.services(), session.actor(), session.show(), session.person()
    running = recovery_state.listed(services, actor, PageRequest(LARGEST_PAGE), open_only=True).items
    mine = [
        one for one in running if one.recorded_by == actor.name or (person and one.technician == person.name)
    ]
    courses = [recovery_state.read(services, actor, one.id) for one in mine[:MOST_GOING_ON]]
    return [views.going_on(course, recovery_views.calling(course, show)) for course in courses]
