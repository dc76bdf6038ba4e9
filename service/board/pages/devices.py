"""Devices that have been heard of: their names, and which are retired."""

from flask import redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from service.board import session
from service.board.blueprint import bp, done
from service.board.forms import Form
from service.board.views.devices import devices_page as view
from service.operations import devices, hookups, not_understood
from service.operations.devices import DeviceChange
from service.operations.support.errors import OperationError
from service.store.paging import LARGEST_PAGE, PageRequest


@bp.get("/devices")
@session.sign_in_first
def devices_page() -> str:
    """Show what has been heard of, on no cylinder first."""
    services, actor = session.services(), session.actor()
    heard = devices.listed(services, actor, PageRequest(LARGEST_PAGE), attached=None).items
    active = hookups.listed(services, actor, PageRequest(LARGEST_PAGE), active=True, serial=None).items
    unread = not_understood.of_late(services, actor)
    return render_template("devices.html", page=view(heard, active, unread, session.show()))


@bp.post("/devices/<device>")
@session.sign_in_first
def change_device(device: str) -> Response:
    """Give a device a name, retire it, or take it back into use."""
    form = Form(request.form)
    changes: DeviceChange = {}
    if "called" in form.values:
        changes["called"] = form.text("called", "What people call it", longest=80, required=False) or None
    if "retired" in form.values:
        changes["retired"] = form.values["retired"] == "yes"
    if form.ok:
        try:
            devices.change(session.services(), session.actor(), device, changes)
        except OperationError as error:
            form.refusals = session.refusals(error)
    for sentence in [*form.errors.values(), *form.refusals] or ["Saved."]:
        done(sentence)
    return redirect(url_for("board.devices_page"))
