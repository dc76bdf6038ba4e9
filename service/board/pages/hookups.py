"""Putting devices on a cylinder and taking them off."""

from collections.abc import Sequence
from typing import get_args

from flask import redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from service.board import session
from service.board.blueprint import bp, done
from service.board.forms import Form
from service.board.pages.start import my_gauge_set, my_set, remember_set, set_of
from service.board.views.devices import options, set_options
from service.cylinders.valves import Valve
from service.operations import devices, hookups, overview
from service.operations.hookups import NewHookup
from service.operations.support.errors import NotFound, OperationError
from service.store.hookups import Hookup
from service.store.paging import LARGEST_PAGE, PageRequest

VALVES = get_args(Valve)


@bp.route("/hook-up", methods=["GET", "POST"])
@session.sign_in_first
def hook_up() -> Response | str:
    """Say which devices are on which cylinder, on which valve."""
    services, actor = session.services(), session.actor()
    together = hookups.sets(services, actor)
    form = Form(request.form if request.method == "POST" else _given(together))
    unknown = ""
    if request.method == "POST":
        serial = form.text("cylinder", "Cylinder", longest=64)
        try:
            if led := _led_on(form, serial, together):
                return redirect(led, 303)
        except NotFound as error:
            form.refusals = session.refusals(error)
            unknown = serial if error.noun == "cylinder" else ""
        except OperationError as error:
            form.refusals = session.refusals(error)
    known, show = (
        devices.listed(services, actor, PageRequest(LARGEST_PAGE), attached=None).items,
        session.show(),
    )
    free = [device for device in known if not device.attached]
    return render_template(
        "hook_up.html",
        form=form,
        unknown=unknown,
        mine=my_gauge_set(known),
        serial=request.args.get("serial"),
        serials=overview.serials(services, actor),
        sets=set_options(together, free, show),
        pressure_devices=options(free, "pressure", show),
        temperature_devices=options(free, "temperature", show),
    )


def _led_on(form: Form, serial: str, together: Sequence[Hookup]) -> str:
    """Hook up, or go on to a reading that is typed; gives the next page, empty where something is missing."""
    services, actor = session.services(), session.actor()
    if form.values.get("step") == "type":
        found = overview.one(services, actor, serial).row.serial if form.ok else ""
        return url_for("board.type_reading", serial=found) if found else ""
    pressure_device, temperature_device = _devices(form, together)
    valve = form.choice("valve", "Valve", VALVES)
    if not form.ok:
        return ""
    hooked = hookups.attach(services, actor, NewHookup(serial, pressure_device, temperature_device, valve))
    remember_set(pressure_device, temperature_device)
    done("Hooked up. The settling state shows when a reading can be trusted.")
    return url_for("board.cylinder", serial=hooked.cylinder)


def _devices(form: Form, together: Sequence[Hookup]) -> tuple[str, str]:
    """Both devices: of the set that was chosen, or each by itself."""
    chosen = form.values.get("set", "")
    for one in together:
        if str(one.id) == chosen:
            return one.pressure_device, one.temperature_device
    return form.text("pressure_device", "Pressure device"), form.text(
        "temperature_device", "Temperature device"
    )


def _given(together: Sequence[Hookup]) -> dict[str, str]:
    """Begin with this person's set, or with the device that was chosen."""
    device, chosen = request.args.get("device", ""), set_of(together)
    gauge, clamp = my_set() if not chosen else ("", "")
    return {
        "cylinder": request.args.get("serial", ""),
        "valve": "vapour",
        "set": "" if device else chosen,
        "pressure_device": device or gauge,
        "temperature_device": device or clamp,
    }


@bp.post("/cylinders/<serial>/unhook")
@session.sign_in_first
def unhook(serial: str) -> Response:
    """Take the devices off."""
    services, actor = session.services(), session.actor()
    found = hookups.listed(services, actor, PageRequest(20), active=True, serial=serial)
    for hookup in found.items:
        hookups.detach(services, actor, hookup.id)
    done("The devices are off.")
    return redirect(url_for("board.cylinder", serial=serial))
