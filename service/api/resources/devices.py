"""``/devices``: instruments that have been heard of, attached or not."""

from flask.views import MethodView

from service.api.http import examples
from service.api.http.answers import Listed, page_of, rows
from service.api.http.auth import requires
from service.api.http.current import actor, services
from service.api.http.document import Blueprint
from service.api.http.paging import PageArgs, Paged
from service.api.schemas.live import (
    DeviceArgs,
    DeviceChangeSchema,
    DeviceQuery,
    DeviceSchema,
    NotUnderstoodSchema,
)
from service.operations import devices, not_understood
from service.operations.devices import DeviceChange
from service.store.devices import Device
from service.store.not_understood import NotUnderstood

blueprint = Blueprint("devices", __name__, description="Instruments seen")


@blueprint.route("/devices")
class Devices(MethodView):
    """Every device."""

    @requires("reader", "worker", within=())
    @blueprint.arguments(DeviceArgs, location="query")
    @blueprint.response(200, page_of(DeviceSchema))
    def get(self, args: DeviceQuery) -> Listed[Device]:
        """List devices with their last values; `attached=false` for those on no cylinder."""
        return rows(devices.listed(services(), actor(), args.page, attached=args.attached))


@blueprint.route("/devices/<device>")
class OneDevice(MethodView):
    """One device."""

    @requires("technician", within=())
    @blueprint.arguments(DeviceChangeSchema, example=examples.DEVICE_CHANGE)
    @blueprint.response(200, DeviceSchema)
    def patch(self, body: DeviceChange, device: str) -> Device:
        """Give a device a name, retire it, or take it back into use; a retired one cannot be hooked up."""
        return devices.change(services(), actor(), device, body)


@blueprint.route("/not-understood")
class NotUnderstoodMessages(MethodView):
    """What was heard and could not be read."""

    @requires("reader", "worker")
    @blueprint.arguments(PageArgs, location="query")
    @blueprint.response(200, page_of(NotUnderstoodSchema))
    def get(self, args: Paged) -> Listed[NotUnderstood]:
        """List devices and topics whose messages could not be read, with the reason and the beginning of one."""
        return rows(not_understood.listed(services(), actor(), args.page))
