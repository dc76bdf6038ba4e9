"""Devices that have been heard of."""

from flask import render_template

from service.board import session
from service.board.blueprint import bp
from service.board.views.devices import devices_page as view
from service.operations import devices, hookups, not_understood
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
