"""What was seen of a cylinder's contents, as the verdict takes it."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Final

from service.cylinders.geometry import NoSuchCylinder, liquid_fraction
from service.cylinders.water import water_volume_m3
from service.operations.context import Services
from service.operations.errors import FieldError, Invalid
from service.refrigerants.catalogue import UnknownRefrigerant
from service.store import care
from service.store.cylinders import Cylinder
from service.store.work import Work
from service.verdict.observations import (
    ANALYSER_TRUST,
    ANALYSER_UNCERTAINTY,
    LABORATORY_TRUST,
    LABORATORY_UNCERTAINTY,
    Composition,
    LiquidLevel,
    Observations,
)

KIND: Final = "observation"
WHAT: Final = frozenset(
    (
        *("combustible_gas_found", "analyser", "laboratory", "provenance"),
        *("liquid_level_height_m", "liquid_level_fraction"),
    )
)
_USUAL: Final = {
    "analyser": (ANALYSER_UNCERTAINTY, ANALYSER_TRUST),
    "laboratory": (LABORATORY_UNCERTAINTY, LABORATORY_TRUST),
}
"""Standard uncertainty of a mass fraction where none is stated, and how far the result is trusted [-]."""
STATED_UNCERTAINTY = 0.05
"""Of a liquid fraction that was stated without one (a judgement) [-]."""


@dataclass(frozen=True, slots=True)
class LevelReading:
    """
    A liquid level: a height on the wall, or the fraction itself.

    Parameters
    ----------
    height_m : float or None
        Of the line on the wall above the floor, the cylinder standing [m].
    diameter_m : float or None
        Outer diameter; the usual one where it was not measured [m].
    fraction : float or None
        Of the volume [-].
    """

    height_m: float | None = None
    diameter_m: float | None = None
    fraction: float | None = None


@dataclass(frozen=True, slots=True)
class Seen:
    """Everything that was seen beside pressure and temperature; `compositions` by who found them."""

    combustible_gas: bool | None = None
    compositions: Mapping[str, Composition] = field(default_factory=dict)
    level: LevelReading | None = None


def seen_of(told: Mapping[str, Any]) -> Seen:
    """What was seen, out of a loaded body or a recorded entry."""
    height, fraction = told.get("liquid_level_height_m"), told.get("liquid_level_fraction")
    level = None
    if height is not None or fraction is not None:
        level = LevelReading(height, told.get("cylinder_diameter_m"), fraction)
    compositions = {kind: _composition(kind, told[kind]) for kind in _USUAL if kind in told}
    return Seen(told.get("combustible_gas_found"), compositions, level)


def _composition(kind: str, told: Mapping[str, Any]) -> Composition:
    shares: dict[str, float] = {}
    for part in told["parts"]:
        name = part["designation"]
        shares[name] = shares.get(name, 0.0) + part["mass_fraction"]
    usual, trust = _USUAL[kind]
    stated = told.get("mass_fraction_uncertainty")
    return Composition(shares, usual if stated is None else stated, trust)


def check(services: Services, told: Mapping[str, Any], water_capacity_kg: float | None) -> dict[str, Any]:
    """
    An entry as it is kept, with the catalogue's own designations.

    Raises
    ------
    Invalid
        Where nothing was observed, a designation is unknown, or a level cannot be.
    """
    if not told.keys() & WHAT:
        raise Invalid(FieldError("observation", None, "one of " + ", ".join(sorted(WHAT))))
    kept = observations_of(services, seen_of(told), water_capacity_kg)
    named = zip([kind for kind in _USUAL if kind in told], kept.compositions, strict=True)
    parts = {
        kind: {
            **told[kind],
            "parts": [
                {"designation": name, "mass_fraction": share} for name, share in found.mass_fractions.items()
            ],
        }
        for kind, found in named
    }
    return {**told, **parts}


def recorded(work: Work, cylinder: Cylinder, epoch: int) -> tuple[Observations, str | None]:
    """What was seen of an epoch's contents, the newest of each, and who vouches for them, if that was recorded."""
    gas: bool | None = None
    level: LiquidLevel | None = None
    compositions: dict[str, Composition] = {}
    provenance: str | None = None
    for entry in care.of_epoch(work, cylinder.id, epoch, KIND):
        seen = seen_of(entry.details)
        gas = seen.combustible_gas if seen.combustible_gas is not None else gas
        compositions |= seen.compositions
        provenance = entry.details.get("provenance", provenance)
        if seen.level is not None:
            level = _level_of(seen.level, cylinder) or level
    return Observations(gas, tuple(compositions.values()), level), provenance


def _level_of(reading: LevelReading, cylinder: Cylinder) -> LiquidLevel | None:
    """None where the capacity was taken back, or corrected to one that cannot have such a level."""
    try:
        return liquid_level(reading, cylinder.water_capacity_kg)
    except Invalid:
        return None


def observations_of(
    services: Services, seen: Seen, water_capacity_kg: float | None, where: str = ""
) -> Observations:
    """
    What was seen, as the verdict takes it.

    Parameters
    ----------
    services
        Hold the catalogue.
    seen
        As stated.
    water_capacity_kg
        Of the cylinder; turns a height into a fraction [kg].
    where
        Before the names of fields in a refusal.

    Raises
    ------
    Invalid
        Naming a designation that nobody knows, or a level that cannot be.
    """
    return Observations(
        seen.combustible_gas,
        tuple(_named(services, where + finder, found) for finder, found in seen.compositions.items()),
        None if seen.level is None else liquid_level(seen.level, water_capacity_kg, where),
    )


def _named(services: Services, where: str, found: Composition) -> Composition:
    """The same composition by the catalogue's own designations, each once."""
    shares: dict[str, float] = {}
    for text, share in found.mass_fractions.items():
        try:
            name = services.catalogue.normalise(text)
        except UnknownRefrigerant as error:
            raise Invalid(FieldError(f"{where}.parts", text, "a designation such as R-410A")) from error
        shares[name] = shares.get(name, 0.0) + share
    return replace(found, mass_fractions=shares)


def liquid_level(reading: LevelReading, water_capacity_kg: float | None, where: str = "") -> LiquidLevel:
    """
    The share of the volume that is liquid.

    Raises
    ------
    Invalid
        Where the capacity is not known, or no such cylinder has such a level.
    """
    if reading.fraction is not None:
        return LiquidLevel(reading.fraction, STATED_UNCERTAINTY)
    height = reading.height_m or 0.0
    if water_capacity_kg is None:
        raise Invalid(
            FieldError(where + "liquid_level_height_m", height, "a cylinder whose water capacity is known")
        )
    try:
        return LiquidLevel(*liquid_fraction(height, water_volume_m3(water_capacity_kg), reading.diameter_m))
    except NoSuchCylinder as error:
        raise Invalid(FieldError(where + "liquid_level_height_m", height, str(error))) from error
