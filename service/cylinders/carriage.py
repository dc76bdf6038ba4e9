"""What may travel in a van without the whole of the transport rules: materials of trade, points of ADR."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from service.cylinders import rules
from service.cylinders.books import BOOKS, RuleBook
from service.cylinders.rules import Breach, Caution

TRADE_CYLINDER_KG: Final = 100.0
"""Gross mass of one cylinder as a material of trade (49 CFR 173.6, 2015 edition, read) [kg]."""
TRADE_VEHICLE_KG: Final = 200.0
"""Gross mass of all of them on one vehicle (49 CFR 173.6, 2015 edition, read) [kg]."""
ADR_POINTS: Final = 1000.0
"""Above this sum the whole of ADR applies (ADR 1.1.3.6.3, Norwegian edition 2025, read) [-]."""
ADR_FACTORS: Final = {"1": 50.0, "2": 3.0, "3": 1.0}
"""What a kilogram counts, by transport category (ADR 1.1.3.6.4, Norwegian edition 2025, read) [1/kg]."""
ADR_AMMONIA_FACTOR: Final = 20.0
"""What a kilogram of ammonia counts (ADR 1.1.3.6.3 note a) and 1.1.3.6.4, Norwegian edition 2025, read) [1/kg]."""


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

    @property
    def allowed(self) -> bool:
        """No rule is broken."""
        return not self.breaches


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
