"""Why a cylinder may not hold a refrigerant, by its marks and by the law of its place."""

from tests.support.plain.limits import HYDROCARBONS, NOT_READ, p200_ratios
from tests.support.plain.tables import (
    ATM,
    BAR,
    CRITICAL,
    DENSITIES,
    PSI,
    burns,
    continued,
    densities,
    density,
    end_of,
    listed,
    pressure,
    volume,
)
from tests.support.random_cylinders import Cylinder

LPG_CYLINDERS = ("3", "3A", "3AA", "3B", "3E", "3AL", "4B", "4BA", "4B240ET", "4BW", "4E")


def of_the_place(c: Cylinder) -> set[str]:
    if c.law in NOT_READ:
        return {"law-not-read"}
    if c.law == "eu" and c.spec is not None and c.ph_bar is None:
        return {"marks-of-another-law"}
    return {"no-conformity-mark"} if c.law == "eu" and c.ph_bar is not None and not c.conform else set()


def of_marks(c: Cylinder) -> set[str]:
    """What holds whatever is to come."""
    unread = {"marks-unknown"} if c.spec is None and c.ph_bar is None else set()
    return of_the_place(c) | ({"non-refillable"} if c.disposable else unread)


def against(c: Cylinder, name: str, air: float, net: float | None) -> set[str]:
    """Why this cylinder may not hold a refrigerant, with air of so many Pa at 25 °C in it."""
    found = of_marks(c) | ({"flammable-not-marked"} if burns(name) and not c.flammable_marked else set())
    if c.disposable or (c.spec is None and c.ph_bar is None):
        return found
    if c.ph_bar is not None:
        return found | by_test_pressure(c, name, air, net)
    own = [row for row in DENSITIES if row["designation"] == name]
    named = any(listed(c, row) for row in own)
    other = next(row for row in DENSITIES if row["designation"] == "(any not named)")
    if not named and (own or not (c.spec in LPG_CYLINDERS if name in HYDROCARBONS else listed(c, other))):
        found.add("packaging-not-listed")
    hot, warm = (with_air(c, name, celsius, air, net) for celsius in (55.0, 21.0))
    if hot is None or warm is None:
        computed = any(listed(c, row) for row in CRITICAL if row["designation"] == name)
        return found | (set() if named or computed else {"rating-unproven"})
    room = 1.01 if named and air == 0.0 else 1.0
    if hot - ATM > 1.25 * c.psi * PSI * room:
        found.add("rating-55c")
    return found | ({"rating-21c"} if warm - ATM > c.psi * PSI else set())


def by_test_pressure(c: Cylinder, name: str, air: float, net: float | None) -> set[str]:
    """P200: table 2 where its law holds, else the pressure at 65 °C less 1 bar, never under 10 bar."""
    assert c.ph_bar is not None
    if c.law == "eu" and air == 0.0 and p200_ratios(c, name):
        return set()
    high, hot = end_of(name), pressure(name, 65.0)
    if hot is None and high < 65.0 <= high + 6.0:
        hot = 1.003 * continued(name, high)
    if hot is None:
        return {"rating-unproven"}
    if air > 0.0:
        hot += air * 338.15 / 298.15 * squeezed(c, name, min(65.0, high), net)
    return {"rating-iso"} if max(10.0 * BAR, hot - BAR) > c.ph_bar * BAR else set()


def with_air(c: Cylinder, name: str, celsius: float, air: float, net: float | None) -> float | None:
    alone = pressure(name, celsius)
    if alone is None or air == 0.0:
        return alone
    return alone + air * (celsius + 273.15) / 298.15 * squeezed(c, name, celsius, net)


def squeezed(c: Cylinder, name: str, celsius: float, net: float | None) -> float:
    """How many times smaller the vapor space is than at 25 °C: the liquid grows when it warms."""
    if net is None or c.water_kg is None:
        return 1.0
    at_25 = vapour_space(c, name, 25.0, net) if density(name, 25.0) else vapour_space(c, name, celsius, net)
    return at_25 / max(vapour_space(c, name, celsius, net), 0.02)


def vapour_space(c: Cylinder, name: str, celsius: float, net: float) -> float:
    liquid, vapour = densities(name, celsius)
    return 1.0 - min(1.0, max(0.0, (net / volume(c) - vapour) / (liquid - vapour)))
