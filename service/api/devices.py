"""``/devices``: instruments that have been heard of, attached or not."""

from typing import Any

from flask.views import MethodView

from service.api.auth import requires
from service.api.current import actor, services
from service.api.document import Blueprint
from service.api.paging import PageArgs, answer, page_of, request_of
from service.api.schemas.live import DeviceArgs, DeviceSchema, NotUnderstoodSchema
from service.operations import devices, not_understood
from service.store.devices import Device
from service.store.not_understood import NotUnderstood

blueprint = Blueprint("devices", __name__, description="Instruments seen")


@blueprint.route("/devices")
class Devices(MethodView):
    """Every device."""

    @requires("reader", "worker")
    @blueprint.arguments(DeviceArgs, location="query")
    @blueprint.response(200, page_of(DeviceSchema))
    def get(self, args: dict[str, Any]) -> dict[str, Any]:
        """List devices with their last values; `attached=false` for those on no cylinder."""
        page = devices.listed(services(), actor(), request_of(args), attached=args["attached"])
        return answer(page, encode_device)


@blueprint.route("/not-understood")
class NotUnderstoodMessages(MethodView):
    """What was heard and could not be read."""

    @requires("reader", "worker")
    @blueprint.arguments(PageArgs, location="query")
    @blueprint.response(200, page_of(NotUnderstoodSchema))
    def get(self, args: dict[str, Any]) -> dict[str, Any]:
        """List devices and topics whose messages could not be read, with the reason and the beginning of one."""
        return answer(not_understood.listed(services(), actor(), request_of(args)), _encode_not_understood)


def _encode_not_understood(one: NotUnderstood) -> dict[str, Any]:
    return {
        "source": one.source,
        "reason": one.reason,
        "place": one.place,
        "detail": one.detail,
        "example": one.example,
        "partly": one.partly,
        "count": one.count,
        "first_seen": one.first_seen_at,
        "last_seen": one.last_seen_at,
    }


def encode_device(device: Device) -> dict[str, Any]:
    """A device as JSON."""
    return {
        "device": device.name,
        "place": device.place,
        "last_seen": device.last_seen_at,
        "attached": device.hookup_id is not None,
        "hookup": device.hookup_id,
        "readings": device.readings,
    }
