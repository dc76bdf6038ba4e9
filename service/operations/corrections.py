"""Use case for corrections: a wrong entry stays, and an entry of its own says what was wrong with it."""

from dataclasses import replace
from datetime import datetime

from service.cylinders.contents import UNKNOWN, Contents
from service.operations import cylinder_state
from service.operations.support import beliefs
from service.operations.support import contents as recorded
from service.operations.support.attention import review
from service.operations.support.context import Actor, Services, tell
from service.operations.support.errors import Conflict, FieldError, Invalid, NotFound, Reason
from service.operations.support.events import TRANSFER_RECORDED
from service.operations.support.lookup import by_serial
from service.store import cylinders as stored
from service.store import transfers
from service.store.cylinders import Cylinder
from service.store.transfers import Transfer
from service.store.work import Work


def correct(services: Services, actor: Actor, transfer_id: int, mass_kg: float, reason: str) -> Transfer:
    """
    Record what a transfer's mass really was; the entry carries the difference.

    Parameters
    ----------
    services, actor
        What may be used, and who corrects.
    transfer_id
        The entry that was wrong.
    mass_kg
        What it should have said [kg].
    reason
        How that is known.

    Returns
    -------
    Transfer
        The correction.

    Raises
    ------
    Conflict
        When it was corrected already, or is a correction itself.
    Invalid
        When it would change nothing, or leave less than nothing in the cylinder.
    NotFound
        When there is no such transfer.
    """
    at = services.now()
    with services.database.writing(actor.organisation_id) as work:
        wrong = transfers.by_id(work, transfer_id)
        if wrong is None:
            raise NotFound("transfer", transfer_id)
        cylinder = by_serial(work, wrong.cylinder, lock=True)
        if wrong.corrects_id is not None or transfers.corrected(work, transfer_id):
            raise Conflict([Reason("corrected", f"Transfer {transfer_id} was corrected already.")])
        difference = mass_kg - wrong.mass_kg
        if abs(difference) < 1e-6:
            raise Invalid(FieldError("mass_kg", mass_kg, f"another mass than {wrong.mass_kg:.3f} kg"))
        if not stored.emptied_since(work, cylinder, wrong.epoch):
            _apply(services, work, cylinder, wrong, difference, at)
        made = transfers.insert(
            work, cylinder_id=cylinder.id, direction=wrong.direction, designation=wrong.designation,
            shares=wrong.shares, mass_kg=difference, gross_after_kg=None, phase=wrong.phase, epoch=wrong.epoch,
            occurred_at=wrong.occurred_at, recorded_at=at, recorded_by=actor.name, technician=wrong.technician,
            certification_number=wrong.certification_number, equipment=wrong.equipment, corrects_id=wrong.id,
            note=reason,
        )  # fmt: skip
        told = {"transfer": made.id, "cylinder": wrong.cylinder, "corrects": wrong.id, "mass_kg": difference}
        tell(work, actor, at, TRANSFER_RECORDED, f"cylinders/{wrong.cylinder}", {**told, "reason": reason})
        review(services, work, actor, at, [cylinder.id])
        return made


def _apply(
    services: Services, work: Work, cylinder: Cylinder, wrong: Transfer, difference: float, at: datetime
) -> None:
    """Correct the entry's share of the present contents; what a scale has shown since is right already."""
    epoch = stored.epoch_of(work, cylinder, cylinder.epoch)
    held = cylinder_state.of(services, work, cylinder).contents
    weighed = recorded.weighed_after(cylinder, epoch, wrong.occurred_at)
    sign = 1.0 if wrong.direction == "in" else -1.0
    corrected = _adjusted(held, wrong, sign * difference)
    if weighed:
        corrected = replace(corrected, mass_kg=held.mass_kg)
    since, kept = recorded.acted_at(epoch), beliefs.kept(cylinder, epoch)
    with_scale = bool((epoch.contents or {}).get("weighed"))
    document = recorded.document_of(corrected, since, kept, weighed=with_scale)
    stays = {key: told for key, told in (epoch.contents or {}).items() if key not in document}
    stored.set_contents(work, cylinder, stays | document)
    added_up = not weighed and cylinder.tare_kg is not None and corrected.mass_kg is not None
    gross = {"gross_mass_kg": (cylinder.tare_kg or 0.0) + (corrected.mass_kg or 0.0)} if added_up else {}
    stored.change(work, cylinder, at=at, **gross)


def _adjusted(held: Contents, wrong: Transfer, change_kg: float) -> Contents:
    """Contents with more or less of what the transfer moved."""
    total = held.mass_kg or 0.0
    masses = {name: share * total for name, share in (held.shares or {UNKNOWN: 1.0}).items()}
    for name, share in (wrong.shares or {UNKNOWN: 1.0}).items():
        masses[name] = masses.get(name, 0.0) + share * change_kg
    after = sum(masses.values())
    if after < -1e-9 or any(mass < -1e-6 for mass in masses.values()):
        right = wrong.mass_kg + (change_kg if wrong.direction == "in" else -change_kg)
        raise Invalid(FieldError("mass_kg", right, "must not leave less than nothing in the cylinder"))
    shares = (
        {name: mass / after for name, mass in masses.items() if mass > 1e-9} if after > 1e-9 else held.shares
    )
    return replace(held, shares=shares, mass_kg=max(0.0, after))
