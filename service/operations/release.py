"""What a release would do to the air of a van or room, and what may travel as materials of trade."""

from dataclasses import dataclass, replace

from service.cylinders.books import BOOKS
from service.cylinders.carriage import ADR_AMMONIA_FACTOR, ADR_FACTORS, Trade, TradeLoad, carriage
from service.cylinders.release import Load, Release, limit_ppm, release
from service.cylinders.rules import Breach
from service.cylinders.state import CylinderState
from service.operations import cylinders, places, states
from service.operations.context import Actor, Services
from service.operations.errors import FieldError, Invalid
from service.operations.knowledge import knowledge
from service.paperwork.shipping import INHALATION
from service.refrigerants.catalogue import Refrigerant, Sourced
from service.store import cylinders as stored
from service.store.cylinders import Cylinder
from service.store.rulebook import load_adr_gases, load_practical_limits

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
        law = places.law_of(work, rows[0].place_rule_book)
    return _answer(services, rows, judged, _Space(volume_m3, elevation_m, "space", law))


def of_place(
    services: Services, actor: Actor, place: str, volume_m3: float, *, elevation_m: float | None
) -> Answer:
    """If everything came out of all cylinders of one vehicle or room."""
    with services.database.reading(actor.organisation_id) as work:
        stands = places.named(work, place)
        height = elevation_m if elevation_m is not None else stands.elevation_m
        rows = [row for row in stored.everything(work, place=place) if row.standing == "in-service"]
        judged = states.of_all(services, work, rows)
        law = places.law_of(work, stands.rule_book)
    name = "van" if stands.kind == "van" else "space"
    return _answer(services, rows, judged, _Space(volume_m3, height, name, law))


@dataclass(frozen=True, slots=True)
class _Space:
    """Where it comes out: how large [m3], how high [m], what it is called, under whose law."""

    volume_m3: float
    elevation_m: float | None
    name: str
    law: str


def _answer(services: Services, rows: list[Cylinder], judged: list[CylinderState], space: _Space) -> Answer:
    if not space.volume_m3 > 0.0:
        raise Invalid(FieldError("volume_m3", space.volume_m3, "a volume above zero"))
    default = services.policy.default_elevation_m or 0.0
    height = default if space.elevation_m is None else space.elevation_m
    weighed = [state for state in judged if state.contents.is_empty or state.contents.mass_kg is not None]
    unweighed = tuple(state.serial for state in judged if state not in weighed)
    loads = [_load(services, state) for state in weighed if not state.contents.is_empty]
    air = release(loads, space.volume_m3, elevation_m=height, space=space.name)
    book = BOOKS[space.law]
    cited = tuple(Breach(book.cite(breach.rule), breach.detail) for breach in air.breaches)
    freight = [_freight(services, row, state) for row, state in zip(rows, judged, strict=True)]
    return Answer(
        tuple(row.serial for row in rows),
        unweighed,
        replace(air, breaches=cited),
        carriage(freight, space.law),
    )


def _load(services: Services, state: CylinderState) -> Load:
    """Contents as gas: what the record says, else the candidate that makes the worst air."""
    mass = state.contents.mass_kg or 0.0
    possible = [services.catalogue[name] for name in state.possible if name in services.catalogue]
    if not possible:
        return Load(state.serial, None, mass, LIGHTEST_KG_MOL, None, flammable=True, toxic=True)
    limits = [
        limit for limit in (_limit(one, state.marks.law) for one in possible) if limit.value is not None
    ]
    least = min(limits, key=lambda limit: limit.value or 0.0) if len(limits) == len(possible) else None
    return Load(
        serial=state.serial,
        designation=possible[0].designation if len(possible) == 1 else None,
        mass_kg=mass,
        molar_mass_kg_mol=min(one.molar_mass_kg_mol for one in possible),
        rcl_ppm=least.value if least else None,
        flammable=any(_flammable(services, one) for one in possible),
        toxic=any(_toxic(one) for one in possible),
        rcl_mark=least.mark if least else "unknown",
    )


def _limit(refrigerant: Refrigerant, law: str) -> Sourced[float]:
    """The concentration limit that the law of the place goes by [ppm]."""
    if BOOKS[law].concentration == "rcl":
        return refrigerant.rcl_ppm
    found = load_practical_limits().get(refrigerant.designation)
    if found is None:
        return Sourced(None, "no practical limit here", "unknown")
    return Sourced(limit_ppm(found.kg_m3, refrigerant.molar_mass_kg_mol), found.source, found.mark)


def _toxic(refrigerant: Refrigerant) -> bool:
    """Class B, Division 2.3 or inhalation hazard; an unknown class is taken for toxic."""
    safety_class, division = refrigerant.safety_class.value, refrigerant.hazard_division.value
    return (
        (safety_class or "B").startswith("B")
        or (division or "").startswith("2.3")
        or _inhalation(refrigerant)
    )


def _inhalation(refrigerant: Refrigerant) -> bool:
    return refrigerant.un_number.value in INHALATION


def _flammable(services: Services, refrigerant: Refrigerant) -> bool:
    hazard = knowledge(services).hazards(refrigerant.designation)
    return hazard is None or hazard.flammable


def _adr_factor(held: list[Refrigerant]) -> float | None:
    """The greatest factor of all that it may hold; None where one of them has no entry."""
    gases = [load_adr_gases().get(one.un_number.value) for one in held]
    factors = [
        ADR_AMMONIA_FACTOR if gas.un_number == "UN1005" else ADR_FACTORS[gas.transport_category]
        for gas in gases
        if gas is not None
    ]
    return max(factors) if factors and len(factors) == len(held) else None


def _freight(services: Services, row: Cylinder, state: CylinderState) -> TradeLoad:
    held = [services.catalogue[name] for name in state.possible if name in services.catalogue]
    divisions = tuple(one.hazard_division.value for one in held)
    net = 0.0 if state.contents.is_empty else state.contents.mass_kg or 0.0
    return TradeLoad(
        serial=row.serial,
        gross_kg=(row.tare_kg or 0.0) + net,
        hazard_divisions=divisions if divisions or state.contents.is_empty else (None,),
        inhalation_hazard=any(_inhalation(one) for one in held),
        net_kg=net,
        adr_factor=0.0 if state.contents.is_empty else _adr_factor(held),
    )
