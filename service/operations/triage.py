"""An inherited van: cylinders entered by serial alone, each with the step that comes next."""

from collections.abc import Sequence
from dataclasses import dataclass

from service.cylinders.triage import Facts, Progress, progress
from service.operations import cylinder_state, cylinders, places
from service.operations.cylinders import CylinderFields
from service.operations.support.context import Actor, Services, tell
from service.operations.support.errors import Conflict, FieldError, Invalid, Reason
from service.operations.support.events import CYLINDER_CHANGED
from service.store import care, hookups, pairs
from service.store import cylinders as stored
from service.store.cylinders import Cylinder


@dataclass(frozen=True, slots=True)
class Triaged:
    """A cylinder and how far it is."""

    cylinder: Cylinder
    progress: Progress


def enter(services: Services, actor: Actor, serials: Sequence[str], *, place: str | None) -> list[Triaged]:
    """
    Take cylinders in by their serials alone, all or none.

    Raises
    ------
    Invalid
        When a serial stands in the list twice.
    Conflict
        When one is registered already; every one is told.
    """
    doubled = sorted({serial for serial in serials if list(serials).count(serial) > 1})
    if doubled:
        raise Invalid(FieldError("serials", doubled, "each serial once"))
    at = services.now()
    with services.database.writing(actor.organisation_id) as work:
        known = [serial for serial in serials if stored.by_serial(work, serial) is not None]
        if known:
            raise Conflict(
                [Reason("serial-exists", f"Cylinder {one} is registered already.") for one in known]
            )
        for serial in serials:
            values: CylinderFields = {} if place is None else {"place": place}
            cylinders.register(services, actor, serial, values)
            told = {"change": "triage", "cylinder": serial}
            tell(work, actor, at, CYLINDER_CHANGED, f"cylinders/{serial}", told)
        return [one for one in _all(services, actor, place) if one.cylinder.serial in set(serials)]


def listed(services: Services, actor: Actor, *, place: str | None, unfinished_only: bool) -> list[Triaged]:
    """Cylinders with their next step, those that need most first."""
    found = _all(services, actor, place)
    wanted = [one for one in found if one.progress.next_step is not None or not unfinished_only]
    return sorted(wanted, key=lambda one: (len(one.progress.done), one.cylinder.serial))


def _all(services: Services, actor: Actor, place: str | None) -> list[Triaged]:
    with services.database.reading(actor.organisation_id) as work:
        if place is not None:
            places.named(work, place)
        rows = [row for row in stored.everything(work, place=place) if row.standing == "in-service"]
        ids = [row.id for row in rows]
        attached, paired = hookups.active_by_cylinder(work, ids), pairs.cylinders_with_pairs(work, ids)
        labelled = care.newest(work, ("label",), ids)
        judged = cylinder_state.known_of(services, work, rows)
    return [
        Triaged(
            known.cylinder,
            progress(
                Facts(
                    marks_understood=known.state.marks.understood,
                    has_capacity_and_tare=None
                    not in (known.cylinder.water_capacity_kg, known.cylinder.tare_kg),
                    weighed=known.state.net_mass_kg is not None,
                    hooked_up=bool(attached.get(known.cylinder.id)),
                    has_pairs=known.cylinder.id in paired,
                    has_verdict=known.state.measured is not None or known.state.contents.evacuated,
                    labelled=(known.cylinder.id, "label") in labelled,
                )
            ),
        )
        for known in judged
    ]
