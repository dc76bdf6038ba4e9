"""What was seen of a cylinder's contents, as the verdict takes it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Final, TypedDict, cast

from service.cylinders.geometry import NoSuchCylinder, liquid_fraction
from service.cylinders.water_capacity import water_volume_m3
from service.operations.support.context import Services
from service.operations.support.errors import FieldError, Invalid
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
        *("combustible_gas_found", "analyser_composition", "laboratory_composition", "provenance"),
        *("liquid_level_height_m", "liquid_level_fraction"),
    )
)
COMPOSED: Final = ("analyser", "laboratory")
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


@dataclass(frozen=True, slots=True)
class Part:
    """One refrigerant of a measured composition, and its share of the mass [-]."""

    designation: str
    mass_fraction: float


@dataclass(frozen=True, slots=True)
class Measured:
    """A composition that somebody measured, and its standard uncertainty [-]."""

    parts: Sequence[Part]
    mass_fraction_uncertainty: float | None = None


@dataclass(frozen=True, slots=True)
class Observed:
    """What else was seen of the contents, as stated [m], [-]."""

    combustible_gas_found: bool | None = None
    analyser: Measured | None = None
    laboratory: Measured | None = None
    liquid_level_height_m: float | None = None
    liquid_level_fraction: float | None = None
    cylinder_diameter_m: float | None = None


class ComposedPart(TypedDict):
    """A part as an entry keeps it."""

    designation: str
    mass_fraction: float


class Composed(TypedDict):
    """A composition as an entry keeps it."""

    parts: list[ComposedPart]
    mass_fraction_uncertainty: float | None


class Told(TypedDict, total=False):
    """What was seen, as an entry keeps it."""

    combustible_gas_found: bool
    analyser_composition: Composed
    laboratory_composition: Composed
    liquid_level_height_m: float
    liquid_level_fraction: float
    cylinder_diameter_m: float
    provenance: str


def observed_in(told: Told) -> Observed:
    """What an entry says."""
    measured = {kind: _measured(told.get(f"{kind}_composition")) for kind in COMPOSED}
    return Observed(
        told.get("combustible_gas_found"),
        measured["analyser"],
        measured["laboratory"],
        told.get("liquid_level_height_m"),
        told.get("liquid_level_fraction"),
        told.get("cylinder_diameter_m"),
    )


def _measured(told: object) -> Measured | None:
    if not isinstance(told, Mapping):
        return None
    parts = tuple(Part(part["designation"], part["mass_fraction"]) for part in told["parts"])
    return Measured(parts, told.get("mass_fraction_uncertainty"))


def seen_of(observed: Observed) -> Seen:
    """The same with each composition as it is weighed."""
    height, fraction = observed.liquid_level_height_m, observed.liquid_level_fraction
    level = None
    if height is not None or fraction is not None:
        level = LevelReading(height, observed.cylinder_diameter_m, fraction)
    measured = {"analyser": observed.analyser, "laboratory": observed.laboratory}
    compositions = {kind: _composition(kind, one) for kind, one in measured.items() if one is not None}
    return Seen(observed.combustible_gas_found, compositions, level)


def _composition(kind: str, measured: Measured) -> Composition:
    shares: dict[str, float] = {}
    for part in measured.parts:
        shares[part.designation] = shares.get(part.designation, 0.0) + part.mass_fraction
    usual, trust = _USUAL[kind]
    stated = measured.mass_fraction_uncertainty
    return Composition(shares, usual if stated is None else stated, trust)


def checked(services: Services, told: Told, water_capacity_kg: float | None) -> Told:
    """
    An entry as it is kept, with the catalogue's own designations.

    Raises
    ------
    Invalid
        Where nothing was observed, a designation is unknown, or a level cannot be.
    """
    if not told.keys() & WHAT:
        raise Invalid(
            FieldError(
                "observation",
                None,
                "one of " + ", ".join(sorted(one.removesuffix("_composition") for one in WHAT)),
            )
        )
    seen = seen_of(observed_in(told))
    kept = observations_of(services, seen, water_capacity_kg)
    by_kind = dict(zip(seen.compositions, kept.compositions, strict=True))
    result = told.copy()
    if "analyser" in by_kind:
        result["analyser_composition"] = _composed(by_kind["analyser"])
    if "laboratory" in by_kind:
        result["laboratory_composition"] = _composed(by_kind["laboratory"])
    return result


def _composed(found: Composition) -> Composed:
    parts = [
        ComposedPart(designation=name, mass_fraction=share) for name, share in found.mass_fractions.items()
    ]
    return Composed(parts=parts, mass_fraction_uncertainty=found.uncertainty)


def recorded(work: Work, cylinder: Cylinder, epoch: int) -> tuple[Observations, str | None]:
    """What was seen of an epoch's contents, the newest of each, and who vouches for them, if that was recorded."""
    gas: bool | None = None
    level: LiquidLevel | None = None
    compositions: dict[str, Composition] = {}
    provenance: str | None = None
    for entry in care.of_epoch(work, cylinder.id, epoch, KIND):
        seen = seen_of(observed_in(cast(Told, entry.details)))
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
