"""What curves, catalogue and published tables say of a refrigerant and of marks."""

import csv
import math
import re
from functools import cache
from pathlib import Path

from service.store.artefacts import load_catalogue, load_curves
from tests.support.random_cylinders import Cylinder

DATA = Path(__file__).parents[3] / "service" / "cylinders" / "data"
PSI, BAR, ATM, POUND, INCH = 6894.757293168, 1e5, 101325.0, 0.45359237, 0.0254


def rows(name: str) -> list[dict[str, str]]:
    with (DATA / name).open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


DENSITIES, CRITICAL = rows("filling_density.csv"), rows("supercritical_density.csv")
P200 = [row for row in rows("adr_gases.csv") if row["test_pressure_bar"]]
CURVES, CATALOGUE = load_curves(), load_catalogue()


DENSITIES, CRITICAL = rows("filling_density.csv"), rows("supercritical_density.csv")
P200 = [row for row in rows("adr_gases.csv") if row["test_pressure_bar"]]
CURVES, CATALOGUE = load_curves(), load_catalogue()


@cache
def pressure(name: str, celsius: float) -> float | None:
    """Absolute, at the bubble line [Pa]; None where its curve does not reach."""
    low, high = CURVES.temp_range_k(name)
    kelvin = celsius + 273.15
    return float(CURVES.bubble_pressure_pa(name, kelvin)) if low <= kelvin <= high else None


@cache
def density(name: str, celsius: float) -> float | None:
    """Of the boiling liquid [kg/m3]."""
    reached = pressure(name, celsius) is not None
    return float(CURVES.liquid_density_kg_m3(name, celsius + 273.15)) if reached else None


@cache
def densities(name: str, celsius: float) -> tuple[float, float]:
    """Of boiling liquid and of its vapor [kg/m3]."""
    kelvin = celsius + 273.15
    return float(CURVES.liquid_density_kg_m3(name, kelvin)), float(CURVES.vapour_density_kg_m3(name, kelvin))


@cache
def end_of(name: str) -> float:
    """Where the curves of a refrigerant end [°C]."""
    return float(CURVES.temp_range_k(name)[1]) - 273.15


@cache
def continued(name: str, end: float) -> float:
    """Pressure at 65 °C where the curve ends a little before: ln p straight in 1/T from its last 5 K [Pa]."""
    last, before = (float(CURVES.bubble_pressure_pa(name, t + 273.15)) for t in (end, end - 5.0))
    slope = math.log(last / before) / (1.0 / (end + 268.15) - 1.0 / (end + 273.15))
    return last * math.exp(slope * (1.0 / (end + 273.15) - 1.0 / 338.15))


@cache
def burns(name: str) -> bool:
    if name not in CATALOGUE or CATALOGUE[name].safety_class.value is None:
        return True
    division = CATALOGUE[name].hazard_division.value or ""
    return CATALOGUE[name].safety_class.value[1:] in ("2L", "2", "3") or division.startswith("2.1")


@cache
def poisons(name: str) -> bool:
    if name not in CATALOGUE or CATALOGUE[name].safety_class.value is None:
        return True
    division = CATALOGUE[name].hazard_division.value or ""
    return CATALOGUE[name].safety_class.value[0] == "B" or division.startswith("2.3")


def oxidizes(name: str) -> bool:
    return name in CATALOGUE and "5.1" in (CATALOGUE[name].hazard_division.value or "")


def volume(c: Cylinder) -> float:
    """Inner volume [m3]: a pound of water takes 27.737 cubic inches."""
    assert c.water_kg is not None
    return c.water_kg / POUND * 27.737 * INCH**3


def listed(c: Cylinder, row: dict[str, str]) -> bool:
    """Whether a row of 173.304a(a)(2) names this specification, at this marked pressure or a lower one."""
    for word in re.findall(r"[0-9][0-9A-Z]*", row["authorised_packaging_DOT"]):
        found = re.fullmatch(
            r"(39|3AAX|3AX|3AA|3AL|3HT|3A|3B|3E|3T|3|4AA|4BA|4BW|4B|4DA|4DS|4D|4E)(\d*)", word
        )
        if found and found[1] == c.spec and (not found[2] or c.spec == "39" or c.psi >= float(found[2])):
            return True
    return False
