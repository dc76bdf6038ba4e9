"""What happens in a closed van or room if everything comes out, and what may travel as materials of trade.

Concentration by volume if the whole charge became vapour and mixed evenly, at 25 °C and one atmosphere:
refrigerant vapour over room volume, with the air that it pushes out leaving the room. Heavier than air, it
lies thicker near the floor: the figure is a mean, not the worst place.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from service.cylinders import rules
from service.cylinders.books import BOOKS, RuleBook
from service.cylinders.rules import Breach, Caution
from service.units import STANDARD_ATMOSPHERE_PA

GAS_CONSTANT: Final = 8.314462618
MOLAR_VOLUME_25C_M3: Final = GAS_CONSTANT * 298.15 / STANDARD_ATMOSPHERE_PA
OXYGEN_IN_AIR: Final = 0.2095
OXYGEN_DEFICIENT: Final = 0.195
"""29 CFR 1910.134 (from memory): air with less than 19.5 % oxygen is oxygen-deficient."""
# ANSI/ASHRAE 34 oxygen deprivation limits, from memory: up to 1000 m, to 1500 m, above [ppm by volume].
_OXYGEN_LIMITS_PPM: Final = ((1000.0, 140_000.0), (1500.0, 112_000.0), (float("inf"), 69_100.0))
MARK_WORDS: Final = {"memory": "from memory, unverified"}
TRADE_CYLINDER_KG: Final = 100.0
TRADE_VEHICLE_KG: Final = 200.0
ADR_POINTS: Final = 1000.0
ADR_FACTORS: Final = {"1": 50.0, "2": 3.0, "3": 1.0}
ADR_AMMONIA_FACTOR: Final = 20.0
"""ADR 1.1.3.6.3 note a) and 1.1.3.6.4, Norwegian edition 2025, read [-]."""

ESCAPE_IN_VEHICLE: Final = (
    "If refrigerant escapes in a vehicle: stop, open the doors, get out, and stay out until it has aired."
)
CAUTIONS: Final = (
    ESCAPE_IN_VEHICLE,
    "Refrigerant displaces oxygen and lies along the floor; ventilate before anybody goes in.",
    "Liquid refrigerant freezes skin and eyes at once: gloves and eye protection.",
)
TOXIC_CAUTION: Final = (
    "It is toxic: do not breathe it, go upwind, let nobody back in without breathing apparatus."
)
FILLED: Final = 0.997
"""From this share of the space on, the oxygen that is left would be written as 0.0 %: the gas fills the space [-]."""
FLAMMABLE_CAUTION: Final = "It can burn: no flame, no spark, no switch until the air is clear."


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


@dataclass(frozen=True, slots=True)
class TradeLoad:
    """
    One cylinder as freight.

    Parameters
    ----------
    serial, gross_kg, net_kg
        Gross and net mass [kg].
    hazard_divisions
        Of all it may hold; None for an unknown one.
    inhalation_hazard, is_waste
        What keeps it from being a material of trade.
    adr_factor
        By which ADR 1.1.3.6.4 counts its net mass [-]; 0 when empty, None when not identified.
    """

    serial: str
    gross_kg: float
    hazard_divisions: tuple[str | None, ...]
    inhalation_hazard: bool = False
    is_waste: bool = False
    net_kg: float = 0.0
    adr_factor: float | None = None

    @property
    def excluded_as(self) -> str | None:
        """What keeps it from being a material of trade whatever it weighs."""
        if self.is_waste:
            return "waste"
        if None in self.hazard_divisions:
            return "not identified, or of no known hazard division"
        if self.inhalation_hazard or any(str(one).startswith("2.3") for one in self.hazard_divisions):
            return "poisonous by inhalation"
        return None


@dataclass(frozen=True, slots=True)
class Trade:
    """Whether they travel under the exemption; how much more may, gross or of a gas that counts once [kg]."""

    breaches: tuple[Breach, ...]
    cautions: tuple[Caution, ...]
    gross_kg: float
    left_kg: float


def limit_ppm(limit_kg_m3: float, molar_mass_kg_mol: float) -> float:
    """A limit in mass per volume [kg/m3] as concentration by volume at 25 °C [ppm]."""
    return 1e6 * limit_kg_m3 / molar_mass_kg_mol * MOLAR_VOLUME_25C_M3


def carriage(loads: Iterable[TradeLoad], law: str) -> Trade:
    """What a vehicle's cylinders need under a law before the whole of its transport rules applies."""
    book = BOOKS[law]
    if "carriage" in book.missing:
        loads = list(loads)
        detail = f"{book.name}: {book.missing['carriage']}"
        gross = sum(load.gross_kg for load in loads)
        return Trade((Breach(rules.LAW_MISSING, detail),), (), gross, 0.0)
    return materials_of_trade(loads) if law == "us" else _points_of_adr(loads, book)


def _points_of_adr(loads: Iterable[TradeLoad], book: RuleBook) -> Trade:
    """ADR 1.1.3.6.4: masses times 50 (ammonia 20), 3 or 1 by transport category, up to 1000 on a vehicle."""
    loads = list(loads)
    unknown = [load.serial for load in loads if load.adr_factor is None]
    points = sum(load.net_kg * (load.adr_factor or 0.0) for load in loads)
    rule, breaches = book.rules["carriage-points"], []
    if unknown:
        breaches.append(Breach(rule, f"{', '.join(unknown)}: not identified, or without an entry of ADR"))
    if points > ADR_POINTS:
        breaches.append(Breach(rule, f"{points:.0f} together, at most {ADR_POINTS:.0f}"))
    secured = Caution(book.cite(rules.SECURED), "secured, valves closed and protected")
    gross = sum(load.gross_kg for load in loads)
    return Trade(tuple(breaches), (secured,), gross, max(0.0, ADR_POINTS - points))


def materials_of_trade(loads: Iterable[TradeLoad]) -> Trade:
    """Judge a vehicle by 49 CFR 173.6: 100 kg a cylinder, 200 kg a vehicle, gross."""
    loads = list(loads)
    gross = sum(load.gross_kg for load in loads)
    breaches = [
        Breach(rules.TRADE_CYLINDER, f"{load.serial} weighs {load.gross_kg:.1f} kg gross")
        for load in loads
        if load.gross_kg > TRADE_CYLINDER_KG
    ]
    breaches += [
        Breach(rules.TRADE_EXCLUDED, f"{load.serial} is {load.excluded_as}")
        for load in loads
        if load.excluded_as is not None
    ]
    if gross > TRADE_VEHICLE_KG:
        breaches.append(Breach(rules.TRADE_VEHICLE, f"{gross:.1f} kg together"))
    cautions = [Caution(rules.SECURED, "upright, secured, valves closed and capped")]
    return Trade(tuple(breaches), tuple(cautions), gross, max(0.0, TRADE_VEHICLE_KG - gross))
