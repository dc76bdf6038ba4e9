"""How much of a refrigerant may be in a cylinder [kg]."""

import re

from tests.support.plain.tables import BAR, CATALOGUE, CRITICAL, DENSITIES, P200, PSI, density, listed, volume
from tests.support.random_cylinders import Cylinder

HYDROCARBONS = ("R-290", "R-600", "R-600a", "R-1270")
NOT_READ = ("ca", "au")


def limit(c: Cylinder, name: str) -> float | None:
    """Greatest net mass of one refrigerant [kg]; 0 where no rule allows any; None where nobody can tell."""
    if c.water_kg is None or c.law in NOT_READ:
        return None
    litres, found = volume(c), []
    at_25, at_55, at_50, at_60 = (density(name, t) for t in (25.0, 55.0, 50.0, 60.0))
    if c.ph_bar is None:
        found += [percent / 100.0 * c.water_kg for percent in filling_density(c, name)]
        if at_55 is not None and at_25 is not None:
            found += [0.80 * at_25 * litres, 0.99 * at_55 * litres]
        found = found or [0.0]
    if c.ph_bar is not None or c.law == "eu":
        ratios = p200_ratios(c, name) if c.law == "eu" else []
        if at_25 is not None and at_50 is not None and at_60 is not None:
            found += [0.80 * at_25 * litres, 0.95 * at_50 * litres, at_60 * litres]
        elif not ratios:
            found += [0.0]
        found += [max(ratios) * 999.1 * litres] if ratios else []
    return min(found)


def least_limit(c: Cylinder, names: list[str]) -> float | None:
    found = [limit(c, name) for name in names]
    return min((one for one in found if one is not None), default=None)


def filling_density(c: Cylinder, name: str) -> list[float]:
    """Percent of the water capacity: of the row that lists this cylinder, else the least; LPG by its gravity."""
    if name in HYDROCARBONS:
        at_60f = density(name, (60.0 - 32.0) / 1.8)
        edges = [
            (re.search(r"(\d\.\d+) to", row["gas"]), row)
            for row in DENSITIES
            if row["designation"][:3] == "LPG"
        ]
        below = [
            (float(edge[1]), row)
            for edge, row in edges
            if edge and at_60f and float(edge[1]) <= at_60f / 999.0
        ]
        return [float(max(below, key=lambda one: one[0])[1]["max_filling_density_pct"])] if below else []
    table = [row for row in DENSITIES if row["designation"] == name] or [
        row for row in CRITICAL if row["designation"] == name
    ]
    table = [row for row in table if row["max_filling_density_pct"]]
    fitting = [float(row["max_filling_density_pct"]) for row in table if listed(c, row)]
    every = [float(row["max_filling_density_pct"]) for row in table]
    return [max(fitting)] if fitting else [min(every)] if every else []


def proof_bar(c: Cylinder) -> float:
    """As marked, or by 180.209(a): twice the service pressure of the 4 series, 5/3 of seamless ones."""
    if c.ph_bar is not None:
        return c.ph_bar
    twice = c.spec in ("4B", "4BA", "4BW", "4E")
    return c.psi * PSI / BAR * (2.0 if twice else 5.0 / 3.0 if c.spec in ("3A", "3AA", "3AL") else 0.0)


def p200_ratios(c: Cylinder, name: str) -> list[float]:
    number = CATALOGUE[name].un_number.value if name in CATALOGUE else None
    return [float(row["filling_ratio"]) for row in P200
            if row["un_number"] == number and proof_bar(c) >= float(row["test_pressure_bar"])]  # fmt: skip
