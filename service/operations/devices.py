"""Use cases for devices: which have been heard of, attached or not."""

from service.operations.support.context import Actor, Services
from service.store import devices
from service.store.devices import Device
from service.store.paging import Page, PageRequest


def listed(services: Services, actor: Actor, request: PageRequest, *, attached: bool | None) -> Page[Device]:
    """Devices seen, attached or unattached on request."""
    with services.database.reading(actor.organisation_id) as work:
        return devices.page(work, request, attached=attached, at_places=actor.places)
