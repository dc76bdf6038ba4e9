"""Recorded contents of a cylinder: kept with the epoch, read with what scale and label say."""

from dataclasses import replace
from datetime import datetime
from typing import Any

from service.cylinders.contents import UNKNOWN, Contents
from service.cylinders.judgement.permits import FOUND_KG
from service.operations.support.beliefs import NOTHING_KEPT, Kept, kept, with_kept
from service.store import cylinders as stored
from service.store.cylinders import Cylinder, Epoch
from service.store.work import Work
from service.units import lb_from_kg

GAINED_KG = 0.2
"""So much more on the scale than the record has is no reading error (a judgement) [kg]."""
BASELINE = "first_weighed_kg"
DRAWN_AT = "drawn_at"


def present(work: Work, cylinder: Cylinder) -> Contents:
    """What a cylinder holds by the record of its present epoch."""
    return read(cylinder, stored.epoch_of(work, cylinder, cylinder.epoch))


def read(cylinder: Cylinder, epoch: Epoch) -> Contents:
    """Contents out of an epoch's document, the label's claims and a newer weighing."""
    contents, net, what = by_record(epoch), cylinder.net_mass_kg, kept(cylinder, epoch)
    if contents is None:
        shares = dict.fromkeys(what.claims, 1.0) if len(what.claims) == 1 else {}
        return Contents(shares, _floor(net), basis="claim" if what.claims else "none")
    if net is not None and weighed_since(cylinder, epoch):
        contents = _on_scale(contents, net)
    return _under_pressure(contents, what)


def before(cylinder: Cylinder, epoch: Epoch, gross_before_kg: float | None) -> Contents:
    """Contents before a transfer, with the mass that the scale showed then, if it did."""
    contents = by_record(epoch)
    if contents is None:
        contents = read(cylinder, epoch)
    if gross_before_kg is None or cylinder.tare_kg is None:
        return contents
    contents = _on_scale(contents, gross_before_kg - cylinder.tare_kg)
    return _under_pressure(contents, kept(cylinder, epoch))


def _under_pressure(contents: Contents, what: Kept) -> Contents:
    """A cylinder in which a reading found pressure is not empty, whatever record and scale add up to."""
    if what.found_pressure_pa is None or not contents.is_empty:
        return contents
    return replace(contents, mass_kg=None, evacuated=False)


def by_record(epoch: Epoch) -> Contents | None:
    """Contents by the record alone, without what a scale has shown since; None where nothing is recorded."""
    document = epoch.contents
    if document is None or "shares" not in document:
        return None
    return Contents(
        shares=document["shares"],
        mass_kg=document["mass_kg"],
        evacuated=document["evacuated"],
        basis=document["basis"],
        vapour_lost_fraction=document["vapour_lost_fraction"],
    )


def _on_scale(contents: Contents, net_kg: float) -> Contents:
    if contents.evacuated:
        return contents if net_kg <= FOUND_KG else Contents({}, net_kg)
    return contents.weighed(max(0.0, net_kg))


def weighed_since(cylinder: Cylinder, epoch: Epoch) -> bool:
    """Whether the newest weighing is younger than the recorded contents."""
    return epoch.contents is not None and _weighed_since(cylinder, epoch.contents)


def unexplained_loss_kg(cylinder: Cylinder, epoch: Epoch) -> float | None:
    """Mass that the record, else the first weighing, has and a newer weighing does not [kg]; below 0 for a gain.

    None where one of them is missing.
    """
    document, net = epoch.contents or {}, cylinder.net_mass_kg
    if net is None:
        return None
    recorded = document.get("mass_kg")
    if recorded is not None and not document["evacuated"] and _weighed_since(cylinder, document):
        return float(recorded) - net
    first = document.get(BASELINE)
    return None if first is None or recorded is not None else float(first) - net


def keep_baseline(work: Work, cylinder: Cylinder) -> None:
    """Keep what was weighed first, before a newer weighing takes its place, where no record has the mass."""
    epoch = stored.epoch_of(work, cylinder, cylinder.epoch)
    document, net = epoch.contents or {}, cylinder.net_mass_kg
    if net is None or document.get("mass_kg") is not None or BASELINE in document:
        return
    stored.set_contents(work, cylinder, {**with_kept(document, kept(cylinder, epoch)), BASELINE: net})


def weighed_at(cylinder: Cylinder, epoch: Epoch) -> datetime | None:
    """When a scale last showed the mass: by itself, or with an act; None where the mass was only added up since."""
    acted, alone = acted_at(epoch), cylinder.gross_mass_at
    if alone is not None and alone > acted:
        return alone
    return acted if (epoch.contents or {}).get("weighed") else None


def weighed_after(cylinder: Cylinder, epoch: Epoch, moment: datetime) -> bool:
    """Whether a scale has shown the mass since a moment."""
    last = weighed_at(cylinder, epoch)
    return last is not None and last > moment


def acted_at(epoch: Epoch) -> datetime:
    """When something was last done to the contents."""
    told = (epoch.contents or {}).get("reckoned_at")
    return epoch.started_at if told is None else datetime.fromisoformat(told)


def drawn_at(epoch: Epoch) -> datetime | None:
    """When something was last taken out, by the record."""
    told = (epoch.contents or {}).get(DRAWN_AT)
    return None if told is None else datetime.fromisoformat(told)


def implausible(cylinder: Cylinder, epoch: Epoch) -> tuple[str, ...]:
    """What scale and record say that cannot both be, in words."""
    loss = unexplained_loss_kg(cylinder, epoch)
    if loss is None or loss > -GAINED_KG:
        return ()
    gained = f"{lb_from_kg(-loss):.1f} lb ({-loss:.2f} kg)"
    return (f"{gained} more on the scale than the record has, and no transfer is recorded",)


def document_of(
    contents: Contents, at: datetime, what: Kept = NOTHING_KEPT, *, weighed: bool = False
) -> dict[str, Any]:
    """
    Contents as an epoch keeps them.

    Parameters
    ----------
    contents
        What is in it.
    at
        Since when.
    what
        What was believed then.
    weighed
        Whether a scale has shown the mass, rather than the record.

    Returns
    -------
    dict
        ``masses_kg`` is what the verdict is told.
    """
    mass = contents.mass_kg or 0.0
    document = {
        "shares": dict(contents.shares),
        "mass_kg": contents.mass_kg,
        "evacuated": contents.evacuated,
        "basis": contents.basis,
        "vapour_lost_fraction": contents.vapour_lost_fraction,
        "reckoned_at": at.isoformat(),
        "masses_kg": {name: share * mass for name, share in contents.shares.items() if name != UNKNOWN}
        if not contents.is_empty
        else {},
        "weighed": weighed,
    }
    return with_kept(document, what)


def _weighed_since(cylinder: Cylinder, document: dict[str, Any]) -> bool:
    weighed_at = cylinder.gross_mass_at
    return weighed_at is not None and weighed_at >= datetime.fromisoformat(document["reckoned_at"])


def _floor(net: float | None) -> float | None:
    return None if net is None else max(0.0, net)
