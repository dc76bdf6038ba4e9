"""Putting devices on a cylinder and taking them off."""

from collections.abc import Sequence
from typing import get_args

from flask import redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from service.board import session
from service.board.blueprint import bp, done
from service.board.forms import Form
from service.board.views.devices import options, set_options
from service.cylinders.valves import Valve
from service.operations import devices, hookups, overview
from service.operations.hookups import NewHookup
from service.operations.support.errors import OperationError
from service.store.hookups import Hookup
from service.store.paging import LARGEST_PAGE, PageRequest

VALVES = get_args(Valve)


@bp.route("/hook-up", methods=["GET", "POST"])
@session.sign_in_first
def hook_up() -> Response | str:
    """Say which devices are on which cylinder, on which valve."""
    services, actor = session.services(), session.actor()
    form = Form(request.form if request.method == "POST" else _given())
    together = hookups.sets(services, actor)
    if request.method == "POST":
        pressure_device, temperature_device = _devices(form, together)
        new = NewHookup(
            cylinder=form.text("cylinder", "Cylinder", longest=64),
            pressure_device=pressure_device,
            temperature_device=temperature_device,
            valve=form.choice("valve", "Valve", VALVES),
        )
        if form.ok:
            try:
                hookups.attach(services, actor, new)
            except OperationError as error:
                form.refusals = session.refusals(error)
            else:
                done("Hooked up. The settling state shows when a reading can be trusted.")
                return redirect(url_for("board.cylinder", serial=new.cylinder))
    seen = devices.listed(services, actor, PageRequest(LARGEST_PAGE), attached=False).items
    return render_template(
        "hook_up.html",
        form=form,
        serial=request.args.get("serial"),
        serials=overview.serials(services, actor),
        sets=set_options(together, seen, session.show()),
        pressure_devices=options(seen, "pressure", session.show()),
        temperature_devices=options(seen, "temperature", session.show()),
    )


def _devices(form: Form, together: Sequence[Hookup]) -> tuple[str, str]:
    """Both devices: of the set that was chosen, or each by itself."""
    chosen = form.values.get("set", "")
    for one in together:
        if str(one.id) == chosen:
            return one.pressure_device, one.temperature_device
    return form.text("pressure_device", "Pressure device"), form.text(
        "temperature_device", "Temperature device"
    )


def _given() -> dict[str, str]:
    device = request.args.get("device", "")
    return {
        "cylinder": request.args.get("serial", ""),
        "valve": "vapour",
        "pressure_device": device,
        "temperature_device": device,
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
