"""What a release would do to the air of a van or room, and what may travel as materials of trade."""

from dataclasses import dataclass

from service.cylinders.release import Load, Release, Trade, TradeLoad, materials_of_trade, release
from service.cylinders.state import CylinderState
from service.operations import cylinders, places, states
from service.operations.context import Actor, Services
from service.operations.errors import FieldError, Invalid
from service.operations.knowledge import knowledge
from service.refrigerants.catalogue import Refrigerant
from service.store import cylinders as stored
from service.store.cylinders import Cylinder

LIGHTEST_KG_MOL = 0.017
"""Molar mass taken for contents that nobody knows: ammonia's, which makes more gas than any other refrigerant."""


@dataclass(frozen=True, slots=True)
class Answer:
    """A release of some cylinders together, and how they stand as freight."""

    serials: tuple[str, ...]
    unweighed: tuple[str, ...]
    release: Release
    trade: Trade


def of_cylinder(
    services: Services, actor: Actor, serial: str, volume_m3: float, *, elevation_m: float | None
) -> Answer:
    """If everything came out of one cylinder."""
    with services.database.reading(actor.organisation_id) as work:
        rows = [cylinders.by_serial(work, serial)]
        judged = states.of_all(services, work, rows)
    return _answer(services, rows, judged, volume_m3, elevation_m)


def of_place(
    services: Services, actor: Actor, place: str, volume_m3: float, *, elevation_m: float | None
) -> Answer:
    """If everything came out of all cylinders of one vehicle or room."""
    with services.database.reading(actor.organisation_id) as work:
        height = elevation_m if elevation_m is not None else places.named(work, place).elevation_m
        rows = [row for row in stored.everything(work, place=place) if row.standing == "in-service"]
        judged = states.of_all(services, work, rows)
    return _answer(services, rows, judged, volume_m3, height)


def _answer(
    services: Services,
    rows: list[Cylinder],
    judged: list[CylinderState],
    volume_m3: float,
    elevation_m: float | None,
) -> Answer:
    if not volume_m3 > 0.0:
        raise Invalid(FieldError("volume_m3", volume_m3, "a volume above zero"))
    height = elevation_m if elevation_m is not None else services.policy.default_elevation_m or 0.0
    weighed = [state for state in judged if state.contents.is_empty or state.contents.mass_kg is not None]
    unweighed = tuple(state.serial for state in judged if state not in weighed)
    loads = [_load(services, state) for state in weighed if not state.contents.is_empty]
    return Answer(
        tuple(row.serial for row in rows),
        unweighed,
        release(loads, volume_m3, elevation_m=height),
        materials_of_trade(_freight(services, row, state) for row, state in zip(rows, judged, strict=True)),
    )


def _load(services: Services, state: CylinderState) -> Load:
    """Contents as gas: what the record says, else the candidate that makes the worst air."""
    mass = state.contents.mass_kg or 0.0
    possible = [services.catalogue[name] for name in state.possible if name in services.catalogue]
    if not possible:
        return Load(state.serial, None, mass, LIGHTEST_KG_MOL, None, True)
    flammable = any(_flammable(services, one) for one in possible)
    limits = [one.rcl_ppm.value for one in possible]
    return Load(
        state.serial,
        possible[0].designation if len(possible) == 1 else None,
        mass,
        min(one.molar_mass_kg_mol for one in possible),
        None
        if any(limit is None for limit in limits)
        else min(limit for limit in limits if limit is not None),
        flammable,
    )


def _flammable(services: Services, refrigerant: Refrigerant) -> bool:
    hazard = knowledge(services).hazards(refrigerant.designation)
    return hazard is None or hazard.flammable


def _freight(services: Services, row: Cylinder, state: CylinderState) -> TradeLoad:
    held = state.possible
    division = (
        services.catalogue[held[0]].hazard_division.value if held and held[0] in services.catalogue else None
    )
    net = 0.0 if state.contents.is_empty else state.contents.mass_kg or 0.0
    return TradeLoad(row.serial, (row.tare_kg or 0.0) + net, division)
