"""What happens in a closed van or room if everything comes out.

Concentration by volume if the whole charge became vapor and mixed evenly, at 25 °C and one atmosphere:
refrigerant vapor over room volume, with the air that it pushes out leaving the room. Heavier than air, it
lies thicker near the floor: the figure is a mean, not the worst place.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from service.cylinders import rules
from service.cylinders.rules import Breach
from service.units import STANDARD_ATMOSPHERE_PA

GAS_CONSTANT: Final = 8.314462618
"""Molar gas constant (CODATA, exact since 2019) [J/(mol K)]."""
MOLAR_VOLUME_25C_M3: Final = GAS_CONSTANT * 298.15 / STANDARD_ATMOSPHERE_PA
"""Volume of one mole of an ideal gas at 25 °C and one atmosphere (computed) [m3/mol]."""
OXYGEN_IN_AIR: Final = 0.2095
"""Share of oxygen in dry air by volume (from memory) [-]."""
OXYGEN_DEFICIENT: Final = 0.195
"""Air with less oxygen by volume is oxygen-deficient (29 CFR 1910.134, from memory) [-]."""
_OXYGEN_LIMITS_PPM: Final = ((1000.0, 140_000.0), (1500.0, 112_000.0), (float("inf"), 69_100.0))
"""Oxygen deprivation limits of ANSI/ASHRAE 34, from memory: up to an elevation [m], the concentration [ppm by
volume]."""
MARK_WORDS: Final = {"memory": "from memory, unverified"}
"""How a mark is written out in an answer, where it is not the word itself."""

ESCAPE_IN_VEHICLE: Final = (
    "If refrigerant escapes in a vehicle: stop, open the doors, get out, and stay out until it has aired."
)
"""What to do if it leaks while driving (common practice, no source)."""
CAUTIONS: Final = (
    ESCAPE_IN_VEHICLE,
    "Refrigerant displaces oxygen and lies along the floor; ventilate before anybody goes in.",
    "Liquid refrigerant freezes skin and eyes at once: gloves and eye protection.",
)
"""Cautions that every answer carries (common practice, no source)."""
TOXIC_CAUTION: Final = (
    "It is toxic: do not breathe it, go upwind, let nobody back in without breathing apparatus."
)
"""Added where a load is toxic (common practice, no source)."""
FILLED: Final = 0.997
"""From this share of the space on, the oxygen that is left would be written as 0.0 %: the gas fills the space (a
choice) [-]."""
FLAMMABLE_CAUTION: Final = "It can burn: no flame, no spark, no switch until the air is clear."
"""Added where a load can burn (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Load:
    """One cylinder's contents for a release.

    Parameters
    ----------
    serial : str
        Cylinder.
    designation : str or None
        None when unknown or mixed.
    mass_kg : float
        Net mass [kg].
    molar_mass_kg_mol : float
        Of the contents; for unknown contents the smallest of the candidates, which makes the most gas
        [kg/mol].
    rcl_ppm : float or None
        Refrigerant concentration limit by volume [ppm].
    flammable : bool
        Class 2L, 2 or 3.
    toxic : bool
        Class B, Division 2.3 or inhalation hazard.
    rcl_mark : str
        How the limit is known: ``read``, ``memory``, ``inferred``.
    """

    serial: str
    designation: str | None
    mass_kg: float
    molar_mass_kg_mol: float
    rcl_ppm: float | None
    flammable: bool
    toxic: bool = False
    rcl_mark: str = "read"


@dataclass(frozen=True, slots=True)
class Release:
    """What a release makes of the air.

    Parameters
    ----------
    fills : float
        Volume of the gas over that of the space [-].
    concentration_ppm : float or None
        Mean by volume [ppm]; None where the gas fills the space.
    oxygen_share : float or None
        Oxygen left in the air [-]; None where the gas fills the space.
    statement : str or None
        What to say where the gas fills the space.
    rcl_share : float or None
        Sum over the cylinders of concentration over limit [-]; None where a limit is not known.
    unknown_limits : tuple of str
        Designations without a limit.
    unread_limits : tuple of tuple
        Designations whose limit was not read in the standard, with how it is known.
    breaches : tuple of Breach
        Limits exceeded.
    cautions : tuple of str
        What to say.
    """

    fills: float
    concentration_ppm: float | None
    oxygen_share: float | None
    statement: str | None
    rcl_share: float | None
    unknown_limits: tuple[str, ...]
    unread_limits: tuple[tuple[str, str], ...]
    breaches: tuple[Breach, ...]
    cautions: tuple[str, ...]


def release(
    loads: Sequence[Load], volume_m3: float, *, elevation_m: float = 0.0, space: str = "space"
) -> Release:
    """Air of a closed volume after everything came out.

    Parameters
    ----------
    loads : sequence of Load
        One cylinder, or all on one vehicle.
    volume_m3 : float
        Of the van or room, above zero [m3].
    elevation_m : float
        Above sea level, which decides the oxygen limit [m].
    space : str
        What it is called: ``van``, ``space``.

    Raises
    ------
    ValueError
        When the volume is not positive.
    """
    if not volume_m3 > 0.0:
        raise ValueError(f"volume_m3 must be above 0, got {volume_m3!r}")
    shares = [_ppm(load, volume_m3) for load in loads]
    fills = sum(shares) / 1e6
    filled = fills >= FILLED
    missing = tuple(dict.fromkeys(load.designation or "unknown" for load in loads if load.rcl_ppm is None))
    of_limit = sum(ppm / load.rcl_ppm for ppm, load in zip(shares, loads, strict=True) if load.rcl_ppm)
    return Release(
        fills=fills,
        concentration_ppm=None if filled else 1e6 * fills,
        oxygen_share=None if filled else OXYGEN_IN_AIR * (1.0 - fills),
        statement=_filled(fills, space) if filled else None,
        rcl_share=None if missing and of_limit <= 1.0 else of_limit,
        unknown_limits=missing,
        unread_limits=_unread_limits(loads),
        breaches=tuple(_exceeded(loads, fills, of_limit, volume_m3, elevation_m)),
        cautions=_cautions(loads),
    )


def _exceeded(
    loads: Sequence[Load], fills: float, of_limit: float, volume_m3: float, elevation_m: float
) -> list[Breach]:
    breaches = []
    at = "the whole space" if fills >= FILLED else f"{1e6 * fills:.0f} ppm"
    if of_limit > 1.0:
        marks = "; ".join(f"the limit of {name} is {mark}" for name, mark in _unread_limits(loads))
        known = f" ({marks})" if marks else ""
        breaches.append(
            Breach(rules.RCL, f"{of_limit:.1f} times the limit{known}, at {at} in {volume_m3:g} m3")
        )
    oxygen_limit = next(limit for height, limit in _OXYGEN_LIMITS_PPM if elevation_m <= height)
    if 1e6 * fills > oxygen_limit:
        breaches.append(Breach(rules.OXYGEN, f"{at} against {oxygen_limit:.0f} ppm"))
    return breaches


def _unread_limits(loads: Iterable[Load]) -> tuple[tuple[str, str], ...]:
    found = [
        (load.designation or "unknown", MARK_WORDS.get(load.rcl_mark, load.rcl_mark))
        for load in loads
        if load.rcl_ppm is not None and load.rcl_mark != "read"
    ]
    return tuple(dict.fromkeys(found))


def _filled(fills: float, space: str) -> str:
    """The gas fills the space: no concentration to state, nobody can breathe."""
    times = int(fills)
    if times < 1:
        return f"It would fill the whole {space}: nobody can breathe there."
    count = {1: "once", 2: "twice"}.get(times, f"{times} times")
    return f"It would fill the {space} more than {count} over: nobody can breathe there."


def _cautions(loads: Iterable[Load]) -> tuple[str, ...]:
    loads = list(loads)
    toxic = (TOXIC_CAUTION,) if any(load.toxic for load in loads) else ()
    flammable = (FLAMMABLE_CAUTION,) if any(load.flammable for load in loads) else ()
    return CAUTIONS + toxic + flammable


def _ppm(load: Load, volume_m3: float) -> float:
    return 1e6 * load.mass_kg / load.molar_mass_kg_mol * MOLAR_VOLUME_25C_M3 / volume_m3


def limit_ppm(limit_kg_m3: float, molar_mass_kg_mol: float) -> float:
    """A limit in mass per volume [kg/m3] as concentration by volume at 25 °C [ppm]."""
    return 1e6 * limit_kg_m3 / molar_mass_kg_mol * MOLAR_VOLUME_25C_M3
