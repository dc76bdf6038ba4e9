"""Use cases for devices: which have been heard of, attached or not; naming and retiring them."""

from typing import Any, TypedDict

from service.operations.support.context import Actor, Services, tell
from service.operations.support.errors import Conflict, NotFound, Reason
from service.operations.support.events import DEVICE_CHANGED
from service.store import devices, hookups
from service.store.devices import Device
from service.store.paging import Page, PageRequest
from service.store.work import Work


class DeviceChange(TypedDict, total=False):
    """What may be changed of a device; what is left out stays."""

    called: str | None
    retired: bool


def listed(services: Services, actor: Actor, request: PageRequest, *, attached: bool | None) -> Page[Device]:
    """Devices seen, attached or unattached on request."""
    with services.database.reading(actor.organisation_id) as work:
        return devices.page(work, request, attached=attached, at_places=actor.places)


def change(services: Services, actor: Actor, name: str, changes: DeviceChange) -> Device:
    """
    Give a device a name that people call it by, retire it, or take it back into use.

    Raises
    ------
    NotFound
        When no such device has been heard of, or only at places that the actor does not see.
    Conflict
        When it is to be retired and is on a cylinder.
    """
    at = services.now()
    with services.database.writing(actor.organisation_id) as work:
        device = _named(work, actor, name)
        columns: dict[str, Any] = {}
        if "called" in changes and changes["called"] != device.called:
            columns["called"] = changes["called"]
        if "retired" in changes and changes["retired"] != device.retired:
            if changes["retired"]:
                _require_free(work, name)
            columns["retired_at"] = at if changes["retired"] else None
        if not columns:
            return device
        devices.change(work, name, **columns)
        told = {column: value for column, value in changes.items() if column in ("called", "retired")}
        tell(work, actor, at, DEVICE_CHANGED, f"devices/{name}", told)
        return _named(work, actor, name)


def _require_free(work: Work, name: str) -> None:
    other = hookups.active_with_device(work, name, name)
    if other is not None:
        text = f"{name} is on cylinder {other.cylinder}; detach it first."
        raise Conflict([Reason("device-in-use", text)])


def _named(work: Work, actor: Actor, name: str) -> Device:
    device = devices.by_name(work, name)
    if device is None or (actor.places is not None and device.place not in actor.places):
        raise NotFound("device", name)
    return device
