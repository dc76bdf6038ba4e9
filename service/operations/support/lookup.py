"""Find a cylinder by what is stamped on it, or refuse."""

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
