"""How much a cylinder may hold: the least of the 80 % rule, the 55 °C rule and the filling density."""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Final

from service.cylinders.adr_gases import WATER_15C_KG_M3
from service.cylinders.books import BOOKS, DEFAULT
from service.cylinders.densities import HYDROCARBONS, FillingTable, Row
from service.cylinders.markings import PA_PER_BAR, Marks
from service.cylinders.properties import (
    FILL_REFERENCE_K,
    GRAVITY_REFERENCE_K,
    ISO_FILL_K,
    ISO_FULL_K,
    LAW_HOT_K,
    WATER_60F_KG_M3,
    Knowledge,
    Saturation,
    covers,
)  # fmt: skip
from service.cylinders.rules import (
    CAPACITY_UNKNOWN,
    FILL_55,
    FILL_80,
    FILL_DENSITY,
    FILL_DENSITY_LPG,
    FILL_DENSITY_SUPERCRITICAL,
    FILL_ISO_50,
    FILL_ISO_60,
    FILL_P200,
    LAW_MISSING,
    Breach,
    Rule,
)
from service.cylinders.water_capacity import water_volume_m3

REMEMBERED: Final = 4096
"""Answers kept; a fleet has few combinations of size, marks and refrigerant."""
LIQUID_SHARE: Final = 0.80
"""Share of the volume that liquid may fill at 25 °C (AHRI Guideline K as reported by a trade journal; SAE J1990 7.4,
read) [-]."""
ISO_SHARE: Final = 0.95
"""Share of the liquid's density at 50 °C (ADR 4.1.4.1 P200 (5)(c), edition 2025, read) [-]."""
MARGIN_55: Final = 0.99
"""One percent of the 55 °C mass is kept back for the density model, the stamp and the scale (ours, no source; the
law's own table lies 0.2 to 3 % below the computed mass) [-]."""


@dataclass(frozen=True, slots=True)
class Limit:
    """The greatest net mass [kg] that one rule allows, with the words that explain it."""

    rule: Rule
    mass_kg: float
    detail: str


@dataclass(frozen=True)
class FillingLimit:
    """All limits for one designation in one cylinder; the smallest governs."""

    designation: str
    limits: tuple[Limit, ...]

    @cached_property
    def governing(self) -> Limit:
        """The limit that is reached first."""
        return min(self.limits, key=lambda limit: limit.mass_kg)

    @property
    def mass_kg(self) -> float:
        """Greatest net mass [kg]."""
        return self.governing.mass_kg


@lru_cache(maxsize=REMEMBERED)
def filling_limit(
    designation: str, water_capacity_kg: float, knowledge: Knowledge, *, marks: Marks | None = None
) -> FillingLimit:
    """Greatest net mass of a designation in a cylinder.

    Parameters
    ----------
    designation : str
        Refrigerant.
    water_capacity_kg : float
        Stamped water capacity [kg].
    knowledge : Knowledge
        Curves and the filling-density table.
    marks : Marks, optional
        Decides between rows of one gas; without it the smallest percentage holds.
    """
    volume = water_volume_m3(water_capacity_kg)
    law = BOOKS[marks.law if marks is not None else DEFAULT]
    limits: list[Limit] = []
    if "filling" in law.missing:
        limits = [Limit(LAW_MISSING, 0.0, f"{law.name}: {law.missing['filling']}")]
    elif marks is not None and marks.standard == "ISO":
        limits = _iso_limits(designation, volume, knowledge, marks)
        if law.code == "us":
            limits += _density_limits(
                designation, water_capacity_kg, knowledge.saturation, knowledge.table, marks
            )
    else:
        limits = _dot_limits(designation, water_capacity_kg, knowledge, marks)
        if marks is not None and law.code == "eu":
            own = {one.rule for one in limits}
            limits += [
                one for one in _iso_limits(designation, volume, knowledge, marks) if one.rule not in own
            ]
    return FillingLimit(
        designation, tuple(Limit(law.cite(one.rule), one.mass_kg, one.detail) for one in limits)
    )


def _dot_limits(
    designation: str, water_capacity_kg: float, knowledge: Knowledge, marks: Marks | None
) -> list[Limit]:
    saturation = knowledge.saturation
    limits = _density_limits(designation, water_capacity_kg, saturation, knowledge.table, marks)
    if covers(saturation, designation, LAW_HOT_K):
        limits += _liquid_limits(designation, water_volume_m3(water_capacity_kg), saturation)
    none = f"{designation} has no liquid at 55 °C and no filling density is listed"
    return limits or [Limit(FILL_55, 0.0, none)]


def worst_limit(
    designations: Iterable[str], water_capacity_kg: float, knowledge: Knowledge, *, marks: Marks | None = None
) -> FillingLimit:
    """The smallest limit over several candidates (at least one)."""
    limits = (filling_limit(name, water_capacity_kg, knowledge, marks=marks) for name in designations)
    return min(limits, key=lambda limit: limit.mass_kg)


def filling_breaches(limit: FillingLimit | None, mass_after_kg: float) -> list[Breach]:
    """Every filling rule that a net mass breaks [kg]."""
    if limit is None:
        return [Breach(CAPACITY_UNKNOWN, "no water capacity is recorded")]
    return [
        Breach(one.rule, f"{mass_after_kg:.2f} kg of {limit.designation} would be over {one.mass_kg:.2f} kg: "
                         f"{one.detail}")
        for one in limit.limits
        if mass_after_kg > one.mass_kg + 1e-9
    ]  # fmt: skip


def _iso_limits(designation: str, volume_m3: float, knowledge: Knowledge, marks: Marks) -> list[Limit]:
    """P200: table 2, (5)(c) for a low-pressure liquefied gas, and the trade's 80 %; the least of them counts.

    Table 2 goes with the marks, under any law: for R-125 at a test pressure of 48 bar it allows less than the formula.
    Only ADR fills by the table alone.
    """
    listed = _p200_limit(designation, volume_m3, knowledge, marks)
    saturation = knowledge.saturation
    if not covers(saturation, designation, ISO_FULL_K):
        none = Limit(FILL_ISO_60, 0.0, f"no liquid density of {designation} at 60 °C")
        return listed if listed and marks.law == "eu" else [none]
    at_25, at_50, at_60 = (
        float(saturation.liquid_density_kg_m3(designation, temp))
        for temp in (FILL_REFERENCE_K, ISO_FILL_K, ISO_FULL_K)
    )
    return [
        *listed,
        _limit_80(at_25, volume_m3),
        Limit(FILL_ISO_50, ISO_SHARE * at_50 * volume_m3, f"0.95 of the density at 50 °C, {at_50:.0f} kg/m3"),
        Limit(FILL_ISO_60, at_60 * volume_m3, f"liquid-full at 60 °C at {at_60:.0f} kg/m3"),
    ]


def _p200_limit(designation: str, volume_m3: float, knowledge: Knowledge, marks: Marks) -> list[Limit]:
    gas = knowledge.adr_gas(designation)
    filling = gas.filling(marks.test_pressure_pa) if gas and marks.test_pressure_pa else None
    if gas is None or filling is None:
        return []
    at = f"PH {filling.test_pressure_pa / PA_PER_BAR:g} bar"
    detail = f"filling ratio {filling.ratio:g} of {gas.un_number} at {at}"
    return [Limit(FILL_P200, filling.ratio * WATER_15C_KG_M3 * volume_m3, detail)]


def _limit_80(density: float, volume_m3: float) -> Limit:
    return Limit(FILL_80, LIQUID_SHARE * density * volume_m3, f"80 % of the volume at {density:.0f} kg/m3")


def _liquid_limits(designation: str, volume_m3: float, saturation: Saturation) -> list[Limit]:
    at_25, at_55 = (
        float(saturation.liquid_density_kg_m3(designation, temp)) for temp in (FILL_REFERENCE_K, LAW_HOT_K)
    )
    full = f"liquid-full at 55 °C at {at_55:.0f} kg/m3, less 1 %"
    return [_limit_80(at_25, volume_m3), Limit(FILL_55, MARGIN_55 * at_55 * volume_m3, full)]


def _density_limits(
    designation: str,
    water_capacity_kg: float,
    saturation: Saturation,
    table: FillingTable,
    marks: Marks | None,
) -> list[Limit]:
    if designation in HYDROCARBONS:
        return _lpg_limit(designation, water_capacity_kg, saturation, table)
    rule, rows = FILL_DENSITY, table.named(designation)
    if not rows:
        rule, rows = FILL_DENSITY_SUPERCRITICAL, table.supercritical(designation)
    listed = [
        (row.percent, marks is not None and row.admits(marks)) for row in rows if row.percent is not None
    ]
    if not listed:
        return []
    admitted = [percent for percent, admits in listed if admits]
    percent = max(admitted) if admitted else min(percent for percent, _ in listed)
    return [Limit(rule, percent / 100.0 * water_capacity_kg, _detail(rows[0], percent))]


def _lpg_limit(
    designation: str, water_capacity_kg: float, saturation: Saturation, table: FillingTable
) -> list[Limit]:
    if not covers(saturation, designation, GRAVITY_REFERENCE_K):
        return []
    gravity = float(saturation.liquid_density_kg_m3(designation, GRAVITY_REFERENCE_K)) / WATER_60F_KG_M3
    row = table.lpg(gravity)
    if row is None or row.percent is None:
        return []
    detail = f"{row.percent:g} % of the water capacity for a specific gravity of {gravity:.3f}"
    return [Limit(FILL_DENSITY_LPG, row.percent / 100.0 * water_capacity_kg, detail)]


def _detail(row: Row, percent: float) -> str:
    return f"filling density {percent:g} % of the water capacity for {row.gas.lower()}"
