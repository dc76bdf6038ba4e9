"""Cylinders for tests of the cylinder's life, and the short words that act on them."""

from dataclasses import replace
from typing import Any

from service.operations import care, cylinders, transfers
from service.operations.care import Entry
from service.operations.support.context import Actor, Services
from service.operations.support.weights import Weighing
from service.operations.transfer_entry import NewTransfer
from service.operations.transfers import Done

GOOD: dict[str, Any] = {
    "place": "shop",
    "marks": "DOT-4BA400",
    "requalification_stamp": "6 A123 24",
    "water_capacity_kg": 21.6,
    "tare_kg": 12.4,
}


def delivered(services: Services, actor: Actor, serial: str = "HM-1", **more: Any) -> None:
    """Register a good cylinder that came evacuated."""
    cylinders.register(services, actor, serial, {**GOOD, "evacuated": True, **more})


def put_in(
    services: Services,
    actor: Actor,
    mass_kg: float | None,
    refrigerant: str | None = "R-22",
    serial: str = "HM-1",
    **more: Any,
) -> Done:
    """Record a transfer in."""
    weighing = more.pop("weighing", None) or Weighing(mass_kg)
    return transfers.record(services, actor, NewTransfer(serial, "in", weighing, refrigerant, **more))


def take_out(services: Services, actor: Actor, mass_kg: float, serial: str = "HM-1", **more: Any) -> Done:
    """Record a transfer out."""
    return transfers.record(services, actor, NewTransfer(serial, "out", Weighing(mass_kg), **more))


def evacuate(services: Services, actor: Actor, serial: str = "HM-1", vacuum_pa: float = 65.0) -> None:
    """Record an evacuation."""
    care.record(services, actor, Entry(serial, "evacuation", details={"vacuum_pa": vacuum_pa}))


def as_scope(actor: Actor, scope: str) -> Actor:
    """The same owner's actor of another scope."""
    return replace(actor, scope=scope, name=f"token:{scope}")
