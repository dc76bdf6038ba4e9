"""An evacuation is believed when vacuum reading, gauge, scale and record agree; a later reading can end that."""

from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any, Final

from service.cylinders.contents import Contents
from service.cylinders.judgement.permits import FOUND_KG
from service.operations.support import beliefs, contents
from service.operations.support.context import Services
from service.operations.support.errors import Conflict, FieldError, Invalid, Reason
from service.operations.support.judgements import FRESH
from service.store import cylinders as stored
from service.store import overview, pairs
from service.store.cylinders import Cylinder, Epoch
from service.store.pairs import StoredPair
from service.store.work import Work
from service.units import kpa_from_pa, lb_from_kg, pa_from_micron, psi_from_pa

DEEP_ENOUGH_PA: Final = pa_from_micron(1000)
"""1000 microns of mercury: the trade asks for 500 to 1000 before a cylinder is called evacuated (practice) [Pa]."""
WAS: Final = "was"
SHOWS_PA: Final = 25_000.0
"""A gauge that reads more than this, absolute, is on no evacuated cylinder: three times what the zero of a poor
gauge is off (a judgement) [Pa]."""


def evacuate(
    services: Services, work: Work, cylinder: Cylinder, vacuum_pa: float | None, at: datetime, since: datetime
) -> None:
    """
    Begin an empty epoch.

    Raises
    ------
    Invalid
        Without a vacuum reading, with one that is not deep enough, or before the contents last changed.
    Conflict
        When scale, gauge, readings or record say that something is in it; with all that they say.
    """
    if vacuum_pa is None or vacuum_pa > DEEP_ENOUGH_PA:
        expected = f"a vacuum reading of at most {DEEP_ENOUGH_PA:.0f} Pa absolute (1000 microns of mercury)"
        raise Invalid(FieldError("vacuum_pa", vacuum_pa, expected))
    epoch = stored.epoch_of(work, cylinder, cylinder.epoch)
    if since < epoch.started_at:
        expected = f"not before its contents last changed, {epoch.started_at.isoformat()}"
        raise Invalid(FieldError("at", since.isoformat(), expected))
    against = [*_of_record(work, cylinder, epoch), *_of_devices(work, cylinder, services.now())]
    if against:
        raise Conflict(against)
    shares = contents.read(cylinder, epoch).shares
    emptied = Contents(shares, 0.0).evacuate()
    document = contents.document_of(emptied, since, weighed=True)
    stored.open_epoch(work, cylinder, at=since, cause="evacuated", contents=document)
    weighed = {} if cylinder.tare_kg is None else {"gross_mass_kg": cylinder.tare_kg, "gross_mass_at": since}
    stored.change(work, cylinder, at=at, claimed_designation=None, **weighed)


def found_pressure(work: Work, cylinder: Cylinder, pair: StoredPair, begun: Epoch | None) -> None:
    """
    Note that a settled reading shows pressure in a cylinder that the record calls empty: it is not.

    ``begun`` is the pair's epoch as it is now, where that has been read.
    """
    if pair.provisional or pair.epoch != cylinder.epoch or pair.pressure_pa <= SHOWS_PA:
        return
    epoch = begun or stored.epoch_of(work, cylinder, cylinder.epoch)
    if not contents.read(cylinder, epoch).is_empty:
        return
    kept = replace(beliefs.kept(cylinder, epoch), found_pressure_pa=pair.pressure_pa)
    document = contents.document_of(Contents(), pair.settled_at, kept)
    stored.set_contents(work, cylinder, {**document, WAS: epoch.contents})


def explain(work: Work, cylinder: Cylinder, occurred_at: datetime) -> None:
    """Take back that a cylinder was found not empty, for a transfer into it that is entered late and explains it."""
    epoch = stored.epoch_of(work, cylinder, cylinder.epoch)
    document = epoch.contents or {}
    if document.get(WAS) is not None and occurred_at < contents.acted_at(epoch):
        stored.set_contents(work, cylinder, document[WAS])


def _of_record(work: Work, cylinder: Cylinder, epoch: Epoch) -> list[Reason]:
    """What the record and the readings of the present contents say against it."""
    held = contents.read(cylinder, epoch)
    if held.is_empty:
        return []
    if held.mass_kg is not None:
        text = f"The record and the scale have {_mass(held.mass_kg)} in it: record where that went first."
        return [Reason("not-empty", text)] if held.mass_kg > FOUND_KG else []
    spoken = pairs.speaking(work, cylinder.id, cylinder.epoch, limit=1)
    if not spoken or spoken[0].pressure_pa <= SHOWS_PA or spoken[0].settled_at < contents.acted_at(epoch):
        return []
    text = (
        f"The last reading shows {_pressure(spoken[0].pressure_pa)} in it, and no transfer out is recorded since: "
        "record where that went first."
    )
    return [Reason("not-empty", text)]


def _of_devices(work: Work, cylinder: Cylinder, now: datetime) -> list[Reason]:
    """What gauge and scale on it say against it."""
    attached = overview.attached(work, [cylinder.id]).get(cylinder.id)
    if attached is None or attached.at is None or now - attached.at > FRESH:
        return []
    found, ago = [], _ago(now - attached.at)
    if attached.pressure_pa is not None and attached.pressure_pa > SHOWS_PA:
        text = f"The gauge on it reads {_pressure(attached.pressure_pa)} ({ago} ago)."
        found.append(Reason("gauge-contradicts", text))
    document: dict[str, Any] = attached.document or {}
    gross, tare = document.get("mass_kg"), cylinder.tare_kg
    if gross is not None and tare is not None and gross - tare > FOUND_KG:
        text = f"The scale under it shows {_mass(gross - tare)} above the tare ({ago} ago)."
        found.append(Reason("scale-contradicts", text))
    return found


def _pressure(pressure_pa: float) -> str:
    return f"{psi_from_pa(pressure_pa):.0f} psi ({kpa_from_pa(pressure_pa):.0f} kPa) absolute"


def _mass(mass_kg: float) -> str:
    return f"{lb_from_kg(mass_kg):.1f} lb ({mass_kg:.2f} kg)"


def _ago(span: timedelta) -> str:
    seconds = max(0.0, span.total_seconds())
    return f"{seconds:.0f} s" if seconds < 120.0 else f"{seconds / 60.0:.0f} min"
