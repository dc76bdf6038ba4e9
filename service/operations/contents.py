"""Recorded contents of a cylinder: kept with the epoch, read with what scale and label say."""

from datetime import datetime
from typing import Any

from service.cylinders.contents import UNKNOWN, Contents
from service.store import cylinders as stored
from service.store.cylinders import Cylinder, Epoch
from service.store.work import Work

FOUND_KG = 0.1
"""So much on the scale in a cylinder recorded as evacuated means that somebody put something in [kg]."""


def present(work: Work, cylinder: Cylinder) -> Contents:
    """What a cylinder holds by the record of its present epoch."""
    return read(cylinder, stored.epoch_of(work, cylinder, cylinder.epoch))


def read(cylinder: Cylinder, epoch: Epoch) -> Contents:
    """Contents out of an epoch's document, the label's claim and a newer weighing."""
    contents, net = reckoned(epoch), cylinder.net_mass_kg
    if contents is None:
        claimed = cylinder.claimed_designation
        shares = {claimed: 1.0} if claimed else {}
        return Contents(shares, _floor(net), basis="claim" if claimed else "none")
    return contents if net is None or not weighed_since(cylinder, epoch) else _on_scale(contents, net)


def before(cylinder: Cylinder, epoch: Epoch, gross_before_kg: float | None) -> Contents:
    """Contents before a transfer, with the mass that the scale showed then, if it did."""
    contents = reckoned(epoch)
    if contents is None:
        contents = read(cylinder, epoch)
    if gross_before_kg is None or cylinder.tare_kg is None:
        return contents
    return _on_scale(contents, gross_before_kg - cylinder.tare_kg)


def reckoned(epoch: Epoch) -> Contents | None:
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
    """Mass that the record has and a newer weighing does not [kg]; None where one of them is missing."""
    document, net = epoch.contents, cylinder.net_mass_kg
    if (
        not document
        or document.get("mass_kg") is None
        or net is None
        or not _weighed_since(cylinder, document)
    ):
        return None
    return float(document["mass_kg"]) - net


def document_of(contents: Contents, at: datetime) -> dict[str, Any]:
    """Contents as the epoch keeps them; ``masses_kg`` is what the verdict is told."""
    mass = contents.mass_kg or 0.0
    return {
        "shares": dict(contents.shares),
        "mass_kg": contents.mass_kg,
        "evacuated": contents.evacuated,
        "basis": contents.basis,
        "vapour_lost_fraction": contents.vapour_lost_fraction,
        "reckoned_at": at.isoformat(),
        "masses_kg": {name: share * mass for name, share in contents.shares.items() if name != UNKNOWN}
        if not contents.is_empty
        else {},
    }


def _weighed_since(cylinder: Cylinder, document: dict[str, Any]) -> bool:
    weighed_at = cylinder.gross_mass_at
    return weighed_at is not None and weighed_at >= datetime.fromisoformat(document["reckoned_at"])


def _floor(net: float | None) -> float | None:
    return None if net is None else max(0.0, net)
