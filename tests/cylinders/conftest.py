"""Curves drawn through the figures of computed_checks_coolprop.csv alone: these tests need no artefact.

ln p is straight in 1/T through the figures at 21 and 55 °C, the density straight in T through those at 25 and
55 °C: exact where the rules look, rough elsewhere.
"""

import csv
import math
from pathlib import Path

import pytest

from service.cylinders.densities import FillingTable
from service.cylinders.properties import Hazard, Knowledge
from service.cylinders.water_capacity import WATER_KG_M3
from service.operations.support.rule_data import knowledge_of
from service.store.artefacts import load_catalogue, load_curves
from service.units import STANDARD_ATMOSPHERE_PA, k_from_c, pa_from_psi

DATA = Path(__file__).parent / "data"
TABLE = Path(__file__).parents[2] / "service" / "cylinders" / "data" / "filling_density.csv"
PSI_ATMOSPHERE = 14.696


def checks():
    with (DATA / "computed_checks_coolprop.csv").open(newline="") as file:
        return {row["designation"]: row for row in csv.DictReader(file)}


class ReferenceCurves:
    """Stands in for the tabulated curves."""

    def __init__(self, rows):
        self._rows = {name: row for name, row in rows.items() if row["bubble_pressure_55C_psig"]}
        self._critical = {"R-13": 302.0, "R-23": 299.0, "R-744": 304.0}

    def temp_range_k(self, designation):
        high = self._critical.get(designation, 333.15)
        return 233.15, high

    def _pressure(self, designation, celsius):
        return pa_from_psi(
            float(self._rows[designation][f"bubble_pressure_{celsius}C_psig"]) + PSI_ATMOSPHERE
        )

    def bubble_pressure_pa(self, designation, temp_k):
        t21, t55 = k_from_c(21.0), k_from_c(55.0)
        p21, p55 = self._pressure(designation, 21), self._pressure(designation, 55)
        slope = math.log(p55 / p21) / (1 / t21 - 1 / t55)
        return p21 * math.exp(slope * (1 / t21 - 1 / temp_k))

    def liquid_density_kg_m3(self, designation, temp_k):
        row = self._rows[designation]
        d25 = float(row["sat_liquid_density_25C_kg_m3"])
        d55 = float(row["sat_liquid_density_55C_kg_m3"])
        return d25 + (d55 - d25) * (temp_k - k_from_c(25.0)) / 30.0

    def vapour_density_kg_m3(self, designation, temp_k):
        return 1.25 * self.bubble_pressure_pa(designation, temp_k) * 0.09 / (8.314 * temp_k)


FLAMMABLE = {"R-32": "A2L", "R-454B": "A2L", "R-290": "A3", "R-1234yf": "A2L", "R-152a": "A2", "R-600a": "A3"}
GLIDE = {"R-407C", "R-448A"}


def hazards(designation):
    return Hazard(
        FLAMMABLE.get(designation, "A1"), "2.1" if designation in FLAMMABLE else "2.2", designation in GLIDE
    )


@pytest.fixture(scope="session")
def table():
    return FillingTable.from_csv(TABLE.read_text(encoding="utf-8"))


@pytest.fixture(scope="session")
def knowledge(table):
    return Knowledge(ReferenceCurves(checks()), table, hazards)


@pytest.fixture(scope="session")
def shipped():
    """Everything that the rules look things up in, as it is shipped."""
    return knowledge_of(load_catalogue(), load_curves())


@pytest.fixture(scope="session")
def reference_rows():
    return checks()


__all__ = ["STANDARD_ATMOSPHERE_PA", "WATER_KG_M3"]
