"""Find a cylinder by what is stamped on it, or refuse."""

from collections.abc import Collection

from service.cylinders.plausibility import serial_key
from service.operations.support.errors import NotFound
from service.store import cylinders
from service.store.cylinders import Cylinder
from service.store.work import Work


def by_serial(work: Work, serial: str, *, lock: bool = False) -> Cylinder:
    """The cylinder of that serial, or ``NotFound``."""
    cylinder = cylinders.by_serial(work, serial, lock=lock)
    if cylinder is None:
        raise NotFound("cylinder", serial)
    return cylinder


def locked(work: Work, serials: Collection[str]) -> dict[str, Cylinder]:
    """The cylinders that are known, each locked, in the order of their serials: no two acts wait for each other.

    By what serials are compared, not as somebody typed them.
    """
    found = {
        serial: cylinders.by_serial(work, serial, lock=True) for serial in sorted(serials, key=serial_key)
    }
    return {serial: cylinder for serial, cylinder in found.items() if cylinder is not None}


def all_locked(work: Work, serials: Collection[str]) -> dict[str, Cylinder]:
    """The cylinders, each locked, in the order of their serials; ``NotFound`` when one is unknown."""
    found = locked(work, serials)
    for serial in sorted(serials):
        if serial not in found:
            raise NotFound("cylinder", serial)
    return found
