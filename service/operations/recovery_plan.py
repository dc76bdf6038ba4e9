"""Use cases before a recovery begins: what fits where, and every reason why a cylinder does not do."""

from dataclasses import dataclass

from service.cylinders import recovery as pure
from service.cylinders.recovery import Plan
from service.operations import checks, equipment
from service.operations.recoveries import PROBE_KG, NewRecovery
from service.operations.recovery_turns import gross_before, room_of
from service.operations.support.context import Actor, Services
from service.operations.support.errors import Conflict, Invalid, NotFound, Reason
from service.operations.support.lookup import by_serial


@dataclass(frozen=True, slots=True)
class Looked:
    """
    One cylinder of a plan.

    Parameters
    ----------
    serial
        As registered, else as typed.
    room_kg, target_gross_kg
        What it takes, and its gross mass when it is full [kg]; None where it does not do.
    reasons
        Why it does not do.
    """

    serial: str
    room_kg: float | None
    target_gross_kg: float | None
    reasons: tuple[Reason, ...] = ()


@dataclass(frozen=True, slots=True)
class Rehearsed:
    """What would happen: each cylinder, and how the charge is shared out over those that do."""

    looked: tuple[Looked, ...]
    plan: Plan

    @property
    def allowed(self) -> bool:
        """Every cylinder does."""
        return all(not one.reasons for one in self.looked)

    @property
    def may_be_overridden(self) -> bool:
        """A supervisor may decide otherwise on everything that stands against it."""
        return not self.allowed and all(reason.may_override for one in self.looked for reason in one.reasons)


def rehearse(services: Services, actor: Actor, new: NewRecovery) -> Rehearsed:
    """Look at every cylinder of a plan; nothing is begun. Raises Invalid where the refrigerant is unknown."""
    designation = checks.designation_of(services, new.refrigerant)
    judged = equipment.judge(services, new.at_rest, designation) if new.at_rest else None
    asked = equipment.incoming(designation, PROBE_KG, judged)
    with services.database.reading(actor.organisation_id) as work:
        looked = []
        for place, serial in enumerate(new.cylinders):
            try:
                cylinder = by_serial(work, serial)
                room = room_of(services, work, actor, cylinder, asked, None)
                if place == 0:
                    gross_before(services, work, room, new.gross_before_kg)
                looked.append(Looked(cylinder.serial, room.room_kg, room.target_gross_kg))
            except (Conflict, Invalid, NotFound) as error:
                looked.append(Looked(serial, None, None, tuple(_reasons(error))))
    rooms = [one.room_kg or 0.0 for one in looked]
    return Rehearsed(tuple(looked), pure.share_out(new.equipment.get("charge_kg"), rooms))


def _reasons(error: Conflict | Invalid | NotFound) -> list[Reason]:
    if isinstance(error, Conflict):
        return list(error.reasons)
    return [Reason("not-so", str(error))]
