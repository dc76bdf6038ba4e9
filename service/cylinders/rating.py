"""May this cylinder hold this refrigerant: its marked pressure against what the contents reach when hot.

49 CFR 173.301a(c) and (d): not above the service pressure at 21 °C, not above 5/4 of it at 55 °C. For a blend
the bubble line counts, the highest pressure that it can have. A row of 173.304a(a)(2) that names the gas and
the specification accepts it where the computed pressure agrees with the law within the equation's own 1 %
(R-22 in a 240 cylinder: 300.8 psig computed against 300).
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Final

from service.cylinders.books import BOOKS, RuleBook
from service.cylinders.densities import HYDROCARBONS
from service.cylinders.markings import PA_PER_BAR, Marks
from service.cylinders.properties import (
    FILL_REFERENCE_K,
    ISO_HOT_K,
    LAW_HOT_K,
    LAW_WARM_K,
    Knowledge,
    bubble_gauge_pa,
    bubble_pressure_bound_pa,
    covers,
    liquid_fraction,
)  # fmt: skip
from service.cylinders.rules import (
    CONFORMITY,
    FLAMMABLE_MARK,
    FOREIGN_MARKS,
    LAW_MISSING,
    MARKS_UNKNOWN,
    NON_REFILLABLE,
    PACKAGING,
    PACKAGING_NAMED,
    PACKAGING_P200,
    RATING_21,
    RATING_55,
    RATING_ISO,
    RATING_UNPROVEN,
    Breach,
    Rule,
)  # fmt: skip
from service.units import kpa_from_pa, psi_from_pa

HOT_FACTOR: Final = 1.25
"""Greatest pressure at 55 °C over the service pressure, 5/4 (49 CFR 173.301a(d), read) [-]."""
ISO_LEAST_TEST_PA: Final = 10.0 * PA_PER_BAR
"""Least test pressure of any gas, 10 bar gauge (ADR 4.1.4.1 P200 (5)(c), edition 2025, read) [Pa]."""
REMEMBERED: Final = 4096
"""Answers kept; a fleet has few combinations of marks and refrigerant."""
_ROW_TOLERANCE: Final = 1.01
"""Where the law's own table names gas and cylinder, the computed pressure may be one percent over: the curve's
uncertainty (a choice) [-]."""
_LPG_SPECIFICATIONS: Final = frozenset(
    {"3", "3A", "3AA", "3B", "3E", "3AL", "4B", "4BA", "4B240ET", "4BW", "4E"}
)


@dataclass(frozen=True, slots=True)
class AirLoad:
    """Air that a verdict found, and how full the cylinder is, on which its pressure when hot depends."""

    partial_pressure_25c_pa: float = 0.0
    net_mass_kg: float | None = None
    water_capacity_kg: float | None = None


NO_AIR: Final = AirLoad()
"""No air was found."""


@dataclass(frozen=True, slots=True)
class Rating:
    """Answer for one designation.

    Parameters
    ----------
    designation : str
        The designation judged.
    breaches : tuple of Breach
        Every rule that is broken.
    accepted_by : Rule or None
        The rule that accepts it; None when it is refused.
    gauge_55c_pa, gauge_21c_pa : float or None
        Computed gauge pressures [Pa]; None above the critical point.
    """

    designation: str
    breaches: tuple[Breach, ...]
    accepted_by: Rule | None
    gauge_55c_pa: float | None
    gauge_21c_pa: float | None


def rating(
    marks: Marks,
    designation: str,
    knowledge: Knowledge,
    *,
    air: AirLoad | None = None,
    flammable_marked: bool,
) -> Rating:
    """Judge a cylinder for one designation.

    Parameters
    ----------
    marks : Marks
        Of the cylinder.
    designation : str
        What it is to hold.
    knowledge : Knowledge
        Curves, table, hazards.
    air : AirLoad, optional
        Air found in the contents.
    flammable_marked : bool
        Whether the cylinder is marked and fitted for flammable gas.
    """
    # Without air the mass changes nothing: cylinders with the same marks then share one answer.
    air = air if air is not None and air.partial_pressure_25c_pa != 0.0 else NO_AIR
    return _rated(marks, designation, knowledge, air, flammable_marked)


@lru_cache(maxsize=REMEMBERED)
def _rated(
    marks: Marks, designation: str, knowledge: Knowledge, air: AirLoad, flammable_marked: bool
) -> Rating:
    law = BOOKS[marks.law]
    breaches, accepted = [*_flammable(designation, knowledge, flammable_marked), *_of_marks(marks)], None
    hot = _gauge_with_air(knowledge, designation, LAW_HOT_K, air)
    warm = _gauge_with_air(knowledge, designation, LAW_WARM_K, air)
    if marks.refillable is not False and marks.test_pressure_pa is not None and marks.standard == "ISO":
        found, accepted = _iso(marks, marks.test_pressure_pa, designation, knowledge, air)
        breaches += found
    elif marks.refillable is not False and marks.standard == "DOT":
        found, accepted = _dot(marks, designation, knowledge, hot, warm, air)
        breaches += found
    breaches += _place(marks, law)
    cited = tuple(Breach(law.cite(breach.rule), breach.detail) for breach in breaches)
    return Rating(designation, cited, None if breaches else accepted, hot, warm)


def marks_alone(marks: Marks) -> tuple[Breach, ...]:
    """Whatever the marks and the law of the place refuse, without knowing what is to come."""
    law = BOOKS[marks.law]
    found = (*_of_marks(marks), *_place(marks, law))
    return tuple(Breach(law.cite(breach.rule), breach.detail) for breach in found)


def worst_rating(
    marks: Marks, designations: Iterable[str], knowledge: Knowledge, *, air: AirLoad | None = None,
    flammable_marked: bool,
) -> Rating:  # fmt: skip
    """Judge by all of several candidates (at least one): every rule that any breaks, the highest hot pressure."""
    found = [
        rating(marks, name, knowledge, air=air, flammable_marked=flammable_marked) for name in designations
    ]
    worst = max(
        found,
        key=lambda one: (len(one.breaches), one.gauge_55c_pa if one.gauge_55c_pa is not None else math.inf),
    )
    return replace(worst, breaches=tuple(dict.fromkeys(breach for one in found for breach in one.breaches)))


def _of_marks(marks: Marks) -> list[Breach]:
    """What the marks refuse whatever is to come."""
    if marks.refillable is False:
        return [Breach(NON_REFILLABLE, f"marked {marks.text!r}")]
    if not marks.understood:
        return [Breach(MARKS_UNKNOWN, marks.reason or f"{marks.text!r} is not understood")]
    if marks.standard == "ISO" and marks.test_pressure_pa is None:
        return [Breach(MARKS_UNKNOWN, "no test pressure PH among the marks")]
    return []


def _place(marks: Marks, law: RuleBook) -> list[Breach]:
    """What the law of the place says of marks at all, beside what the marks say of themselves."""
    if "filling" in law.missing:
        return [Breach(LAW_MISSING, f"{law.name}: {law.missing['filling']}")]
    if marks.understood and marks.standard not in law.admits:
        return [Breach(law.foreign or FOREIGN_MARKS, f"{marks.text} at a place under the law of {law.name}")]
    if law.code == "eu" and marks.standard == "ISO" and marks.conformity is None:
        return [Breach(CONFORMITY, f"neither UN nor pi among {marks.text!r}")]
    return []


def _flammable(designation: str, knowledge: Knowledge, flammable_marked: bool) -> list[Breach]:
    hazard = knowledge.hazards(designation)
    if flammable_marked or (hazard is not None and not hazard.flammable):
        return []
    what = "has no known class and is taken for flammable"
    if hazard is not None and hazard.safety_class is not None:
        what = f"is class {hazard.safety_class}"
    return [Breach(FLAMMABLE_MARK, f"{designation} {what}")]


def _dot(
    marks: Marks, designation: str, knowledge: Knowledge, hot: float | None, warm: float | None, air: AirLoad
) -> tuple[list[Breach], Rule]:
    named = knowledge.table.named(designation)
    row_admits = any(row.admits(marks) for row in named)
    breaches: list[Breach] = []
    if named and not row_admits:
        listed = "; ".join(dict.fromkeys(row.packaging_text for row in named))
        breaches.append(
            Breach(PACKAGING, f"{marks.text} is not among those listed for {designation}: {listed}")
        )
    if not named and not _unnamed_admits(marks, designation, knowledge):
        listed = knowledge.table.not_named.packaging_text
        breaches.append(Breach(PACKAGING, f"{marks.text} is not among those for gases not named: {listed}"))
    if hot is None or warm is None:
        by_density = any(row.admits(marks) for row in knowledge.table.supercritical(designation))
        if not row_admits and not by_density:
            breaches.append(
                Breach(RATING_UNPROVEN, f"{designation} is above its critical temperature before 55 °C")
            )
        return breaches, RATING_55 if by_density else PACKAGING_NAMED
    tolerance = _ROW_TOLERANCE if row_admits and air.partial_pressure_25c_pa == 0.0 else 1.0
    service = marks.service_pressure_pa or 0.0
    if hot > HOT_FACTOR * service * tolerance:
        breaches.append(_pressure_breach(RATING_55, designation, "55 °C", hot, HOT_FACTOR * service))
    if warm > service:
        breaches.append(_pressure_breach(RATING_21, designation, "21 °C", warm, service))
    return breaches, PACKAGING_NAMED if hot > HOT_FACTOR * service else RATING_55


def _unnamed_admits(marks: Marks, designation: str, knowledge: Knowledge) -> bool:
    if designation in HYDROCARBONS:
        return marks.specification in _LPG_SPECIFICATIONS
    return knowledge.table.not_named.admits(marks)


def _iso(
    marks: Marks, test_pressure_pa: float, designation: str, knowledge: Knowledge, air: AirLoad
) -> tuple[list[Breach], Rule]:  # fmt: skip
    if marks.law == "eu" and air.partial_pressure_25c_pa == 0.0:
        gas = knowledge.adr_gas(designation)
        if gas is not None and gas.filling(test_pressure_pa) is not None:
            return [], PACKAGING_P200
    needed = iso_test_pressure_pa(designation, knowledge, air)
    if needed is None:
        return [Breach(RATING_UNPROVEN, f"the curves of {designation} end before 65 °C")], RATING_ISO
    if needed > test_pressure_pa:
        marked = f"PH {test_pressure_pa / PA_PER_BAR:g} bar"
        detail = f"{designation} needs PH {needed / PA_PER_BAR:.1f} bar; the cylinder is marked {marked}"
        return [Breach(RATING_ISO, detail)], RATING_ISO
    return [], RATING_ISO


def iso_test_pressure_pa(designation: str, knowledge: Knowledge, air: AirLoad) -> float | None:
    """Least test pressure of ADR P200 (4), (5)(c) and, with air, (5)(e) [Pa]; None where no curve reaches 65 °C."""
    absolute = bubble_pressure_bound_pa(knowledge.saturation, designation, ISO_HOT_K)
    if absolute is None:
        return None
    if air.partial_pressure_25c_pa > 0.0:
        end = min(ISO_HOT_K, knowledge.saturation.temp_range_k(designation)[1])
        squeezed = _squeeze(knowledge, designation, end, air)
        absolute += air.partial_pressure_25c_pa * ISO_HOT_K / FILL_REFERENCE_K * squeezed
    return max(ISO_LEAST_TEST_PA, absolute - PA_PER_BAR)


def _pressure_breach(rule: Rule, designation: str, at: str, gauge_pa: float, allowed_pa: float) -> Breach:
    reached = f"{psi_from_pa(gauge_pa):.0f} psig ({kpa_from_pa(gauge_pa):.0f} kPa)"
    allowed = f"{psi_from_pa(allowed_pa):.0f} psig ({kpa_from_pa(allowed_pa):.0f} kPa)"
    return Breach(rule, f"{designation} reaches {reached} at {at}; allowed are {allowed}")


def _gauge_with_air(knowledge: Knowledge, designation: str, temp_k: float, air: AirLoad) -> float | None:
    gauge = bubble_gauge_pa(knowledge.saturation, designation, temp_k)
    if gauge is None or air.partial_pressure_25c_pa == 0.0:
        return gauge
    return gauge + air.partial_pressure_25c_pa * temp_k / FILL_REFERENCE_K * _squeeze(
        knowledge, designation, temp_k, air
    )


def _squeeze(knowledge: Knowledge, designation: str, temp_k: float, air: AirLoad) -> float:
    """How much smaller the vapor space is than at 25 °C, as a factor on the air's pressure [-]."""
    if air.net_mass_kg is None or air.water_capacity_kg is None:
        return 1.0
    vapour = [
        1.0 - liquid_fraction(knowledge.saturation, designation, net_mass_kg=air.net_mass_kg,
                              water_capacity_kg=air.water_capacity_kg, temp_k=temp)
        for temp in (FILL_REFERENCE_K, temp_k)
        if covers(knowledge.saturation, designation, temp)
    ]  # fmt: skip
    return vapour[0] / max(vapour[-1], 0.02)
