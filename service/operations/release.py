"""What a release would do to the air of a van or room, and what may travel without the whole of the transport rules."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from service.codes import Hazard, Standing
from service.cylinders.books import BOOKS
from service.cylinders.carriage import ADR_AMMONIA_FACTOR, ADR_FACTORS, Trade, TradeLoad, carriage
from service.cylinders.judgement.judge import Judgement
from service.cylinders.release import Load, Release, limit_ppm, release
from service.cylinders.rules import Breach
from service.operations import places
from service.operations.support import judgements
from service.operations.support.context import Actor, Services
from service.operations.support.errors import FieldError, Invalid
from service.operations.support.judgements import Judged
from service.operations.support.lookup import by_serial
from service.paperwork.shipping import INHALATION
from service.refrigerants.catalogue import Refrigerant, Sourced
from service.store import cylinders as stored
from service.store.rulebook import load_adr_gases, load_practical_limits

LIGHTEST_KG_MOL = 0.017
"""Molar mass taken for contents that nobody knows: ammonia's, which makes more gas than any other refrigerant."""


@dataclass(frozen=True, slots=True)
class Released:
    """A release of some cylinders together, and how they stand as freight."""

    serials: tuple[str, ...]
    unweighed: tuple[str, ...]
    release: Release
    trade: Trade


def of_cylinder(
    services: Services, actor: Actor, serial: str, volume_m3: float, *, elevation_m: float | None
) -> Released:
    """If everything came out of one cylinder."""
    with services.database.reading(actor.organisation_id) as work:
        judged = [judgements.of(services, work, by_serial(work, serial))]
        law = places.law_of(work, judged[0].row.place_rule_book)
    return _answer(services, judged, _Space(volume_m3, elevation_m, "space", law))


def of_place(
    services: Services, actor: Actor, place: str, volume_m3: float, *, elevation_m: float | None
) -> Released:
    """If everything came out of all cylinders of one vehicle or room."""
    with services.database.reading(actor.organisation_id) as work:
        stands = places.named(work, place)
        height = elevation_m if elevation_m is not None else stands.elevation_m
        rows = [row for row in stored.everything(work, place=place) if row.standing == Standing.IN_SERVICE]
        judged = judgements.of_all(services, work, rows)
        law = places.law_of(work, stands.rule_book)
    name = "van" if stands.kind == "van" else "space"
    return _answer(services, judged, _Space(volume_m3, height, name, law))


@dataclass(frozen=True, slots=True)
class _Space:
    """Where it comes out: how large [m3], how high [m], what it is called, under whose law."""

    volume_m3: float
    elevation_m: float | None
    name: str
    law: str


def _answer(services: Services, judged: Sequence[Judged], space: _Space) -> Released:
    if not space.volume_m3 > 0.0:
        raise Invalid(FieldError("volume_m3", space.volume_m3, "a volume above zero"))
    default = services.policy.default_elevation_m or 0.0
    height = default if space.elevation_m is None else space.elevation_m
    loads, unweighed = [], []
    for one in judged:
        if one.judgement.state.net_mass_kg is None:
            unweighed.append(one.row.serial)
        elif not one.judgement.belief.is_empty:
            loads.append(_load(services, one.judgement))
    air = release(loads, space.volume_m3, elevation_m=height, space=space.name)
    book = BOOKS[space.law]
    cited = tuple(Breach(book.cite(breach.rule), breach.detail) for breach in air.breaches)
    return Released(
        tuple(one.row.serial for one in judged),
        tuple(unweighed),
        replace(air, breaches=cited),
        carriage([_freight(services, one) for one in judged], space.law),
    )


def _load(services: Services, judgement: Judgement) -> Load:
    """Contents as gas: whatever is believable makes the air as bad as it can."""
    state = judgement.state
    mass, possible = state.net_mass_kg or 0.0, _possible(services, judgement)
    if not possible:
        return Load(state.serial, None, mass, LIGHTEST_KG_MOL, None, flammable=True, toxic=True)
    limits = [
        limit for limit in (_limit(one, state.marks.law) for one in possible) if limit.value is not None
    ]
    least = min(limits, key=lambda limit: limit.value or 0.0) if len(limits) == len(possible) else None
    return Load(
        serial=state.serial,
        designation=judgement.name.bare or (judgement.name.designation if len(possible) == 1 else None),
        mass_kg=mass,
        molar_mass_kg_mol=min(one.molar_mass_kg_mol for one in possible),
        rcl_ppm=least.value if least else None,
        flammable=judgement.hazard(Hazard.FLAMMABLE) is not None,
        toxic=judgement.hazard(Hazard.TOXIC) is not None or any(_inhalation(one) for one in possible),
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


def _inhalation(refrigerant: Refrigerant) -> bool:
    return refrigerant.un_number.value in INHALATION


def _possible(services: Services, judgement: Judgement) -> list[Refrigerant]:
    return [services.catalogue[name] for name in judgement.belief.believable if name in services.catalogue]


def _adr_factor(held: Sequence[Refrigerant]) -> float | None:
    """The greatest factor of all that it may hold; None where one of them has no entry."""
    gases = [load_adr_gases().get(one.un_number.value) for one in held]
    factors = [
        ADR_AMMONIA_FACTOR if gas.un_number == "UN1005" else ADR_FACTORS[gas.transport_category]
        for gas in gases
        if gas is not None
    ]
    return max(factors) if factors and len(factors) == len(held) else None


def _freight(services: Services, one: Judged) -> TradeLoad:
    judgement = one.judgement
    held, net = _possible(services, judgement), judgement.state.net_mass_kg or 0.0
    identified = bool(held) and judgement.name.form != "unknown"
    divisions: tuple[str | None, ...] = tuple(each.hazard_division.value for each in held)
    if not judgement.belief.is_empty and not identified:
        divisions = (*divisions, None)
    factor = _adr_factor(held) if identified else None
    return TradeLoad(
        serial=one.row.serial,
        gross_kg=(one.row.tare_kg or 0.0) + net,
        hazard_divisions=divisions,
        inhalation_hazard=any(_inhalation(each) for each in held),
        net_kg=net,
        adr_factor=0.0 if judgement.belief.is_empty else factor,
    )
