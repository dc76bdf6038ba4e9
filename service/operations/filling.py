"""How full a cylinder is now, and how much more it may take."""

from dataclasses import dataclass

from service.cylinders.filling import FillingLimit, worst_limit
from service.cylinders.properties import (
    FILL_REFERENCE_K,
    covers,
    earliest_liquid_full_temp_k,
    liquid_fraction,
)
from service.operations import cylinders, states
from service.operations.context import Actor, Services
from service.operations.knowledge import knowledge


@dataclass(frozen=True, slots=True)
class Filled:
    """
    The present filling; None where it cannot be told.

    Parameters
    ----------
    serial, tare_kg
        Cylinder [kg].
    judged_by
        Designations that the contents are, or may be; the worst of them counts.
    net_mass_kg
        What is in it [kg].
    limit
        The governing limit.
    remaining_kg
        How much more may go in [kg]; never negative.
    liquid_fraction
        Share of the volume that is liquid at 25 °C [-].
    liquid_full_temp_k
        At which the liquid fills it [K]; None beyond the curves.
    """

    serial: str
    tare_kg: float | None
    judged_by: tuple[str, ...]
    net_mass_kg: float | None
    limit: FillingLimit | None = None
    remaining_kg: float | None = None
    liquid_fraction: float | None = None
    liquid_full_temp_k: float | None = None


def of_cylinder(services: Services, actor: Actor, serial: str) -> Filled:
    """How full it is, by the worst of what it may hold."""
    with services.database.reading(actor.organisation_id) as work:
        state = states.of(services, work, cylinders.by_serial(work, serial))
    known = knowledge(services)
    net = 0.0 if state.contents.is_empty else state.contents.mass_kg
    held, capacity = state.possible, state.water_capacity_kg
    if not held or not capacity:
        return Filled(serial, state.tare_kg, held, net)
    limit = worst_limit(held, capacity, known, marks=state.marks)
    if net is None:
        return Filled(serial, state.tare_kg, held, None, limit)
    filled = {"net_mass_kg": net, "water_capacity_kg": capacity}
    inside = [name for name in held if covers(known.saturation, name, FILL_REFERENCE_K)]
    fractions = [
        liquid_fraction(known.saturation, name, temp_k=FILL_REFERENCE_K, **filled) for name in inside
    ]
    return Filled(
        serial,
        state.tare_kg,
        held,
        net,
        limit,
        max(0.0, limit.mass_kg - net),
        max(fractions, default=None),
        earliest_liquid_full_temp_k(known.saturation, held, **filled),
    )
