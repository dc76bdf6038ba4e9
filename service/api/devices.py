"""``/devices``: instruments that have been heard of, attached or not."""

from typing import Any

from flask.views import MethodView

from service.api.auth import requires
from service.api.current import actor, services
from service.api.document import Blueprint
from service.api.paging import answer, page_of, request_of
from service.api.schemas.live import DeviceArgs, DeviceSchema
from service.operations import devices
from service.store.devices import Device

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
