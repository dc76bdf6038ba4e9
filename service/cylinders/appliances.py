"""How fast an appliance leaks, by the two methods of the law, and what follows from it.

40 CFR 82.152 (2015 edition, read) defines the rate as the share of the full charge that would be lost in twelve months
and gives both methods step by step; 40 CFR 84.102 has the same words for HFCs as public guides report. Triggers and
thresholds are newer and as public guides report them (82.157 and 84.106 were not read).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum
from typing import Final

from service.cylinders.rules import Rule
from service.units import kg_from_lb

YEAR_DAYS: Final = 365
"""The rate is for twelve months (40 CFR 82.152, 2015 edition, read) [d]."""
REPAIR_DAYS: Final = 30
"""A leak above the trigger is repaired within so many days (40 CFR 82.157, as public guides report it) [d]."""
CHRONIC_SHARE: Final = 1.25
"""An appliance that lost so much of its full charge in a calendar year is reported (40 CFR 82.157, as public guides
report it) [-]."""
ODS_CHARGE_KG: Final = kg_from_lb(50.0)
"""From this full charge on the rule holds for substances that deplete ozone (40 CFR 82.157, as public guides report
it) [kg]."""
HFC_CHARGE_KG: Final = kg_from_lb(15.0)
"""From this full charge on the rule holds for HFCs (40 CFR 84.106, as public guides report it) [kg]."""
HFC_GWP: Final = 53.0
"""It holds for refrigerants with a greater warming potential (40 CFR 84.106, as public guides report it) [-]."""
HFC_FROM: Final = date(2026, 1, 1)
"""Day from which it holds (40 CFR 84.106, as public guides report it)."""
_GUIDES: Final = "as public guides report it, read 2026-11; the section itself was not read"


class Kind(StrEnum):
    """What an appliance is for, which decides the trigger."""

    COMFORT_COOLING = "comfort-cooling"
    COMMERCIAL = "commercial-refrigeration"
    INDUSTRIAL = "industrial-process-refrigeration"
    OTHER = "other"


class Method(StrEnum):
    """How the rate is computed; one method for all appliances of a facility."""

    ANNUALIZED = "annualized"
    ROLLING = "rolling"


TRIGGERS: Final = {Kind.COMFORT_COOLING: 0.10, Kind.COMMERCIAL: 0.20, Kind.INDUSTRIAL: 0.30, Kind.OTHER: 0.10}
"""Share of the full charge lost a year above which a leak must be repaired, by what the appliance is for (40 CFR
82.157 and 84.106, as public guides report them) [-]."""
ODS_LEAKS = Rule(
    "leak-repair-ods", "40 CFR 82.157", _GUIDES, "read",
    "From 50 lb of full charge an appliance with an ozone-depleting refrigerant that leaks above its trigger is "
    "repaired within 30 days and verified.",
)  # fmt: skip
HFC_LEAKS = Rule(
    "leak-repair-hfc", "40 CFR 84.106", _GUIDES, "read",
    "From 15 lb of full charge an appliance with an HFC of GWP above 53 that leaks above its trigger is repaired "
    "within 30 days and verified; since 1 January 2026. Residential and light commercial air conditioning and heat "
    "pumps are exempt (from memory).",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Addition:
    """Refrigerant added on a day [kg]."""

    on: date
    mass_kg: float


@dataclass(frozen=True, slots=True)
class LeakRate:
    """
    An appliance's rate and what follows.

    Parameters
    ----------
    rate
        Share of the full charge a year [-].
    trigger
        Above it a repair is due [-].
    repair_by
        Last day of the repair; None while the rate is within the trigger.
    chronic_years
        Calendar years in which 125 % of the charge or more was added: reported by 1 March of the next.
    """

    method: Method
    rate: float
    trigger: float
    repair_by: date | None
    chronic_years: tuple[int, ...]


def applicable_rule(full_charge_kg: float, *, odp: float | None, gwp: float | None, on: date) -> Rule | None:
    """The leak rule that an appliance is under on a day, by ODP and GWP [-]; None for none, or too little is known."""
    if odp and full_charge_kg >= ODS_CHARGE_KG:
        return ODS_LEAKS
    if not odp and gwp is not None and gwp > HFC_GWP and full_charge_kg >= HFC_CHARGE_KG and on >= HFC_FROM:
        return HFC_LEAKS
    return None


def annualized_rate(additions: Sequence[Addition], full_charge_kg: float) -> float:
    """
    Rate at the last addition: its share of the charge over the shorter of the days since the one before and a year [-].

    Parameters
    ----------
    additions
        Oldest first; those of one day count as one.
    full_charge_kg
        Of the appliance, above zero [kg].
    """
    if not additions:
        return 0.0
    last = additions[-1].on
    added = sum(one.mass_kg for one in additions if one.on == last)
    before = [one.on for one in additions if one.on < last]
    days = min(YEAR_DAYS, (last - before[-1]).days) if before else YEAR_DAYS
    return added / full_charge_kg * YEAR_DAYS / days


def rolling_rate(
    additions: Sequence[Addition], full_charge_kg: float, *, on: date, repaired_on: date | None = None
) -> float:
    """What was added in the last 365 days, or since the last verified repair if that is less, over the charge [-]."""
    since = on - timedelta(days=YEAR_DAYS)
    if repaired_on is not None:
        since = max(since, repaired_on)
    return sum(one.mass_kg for one in additions if since < one.on <= on) / full_charge_kg


def leak_rate(
    additions: Sequence[Addition],
    full_charge_kg: float,
    kind: Kind,
    method: Method,
    *,
    on: date,
    repaired_on: date | None = None,
) -> LeakRate:
    """
    The rate by a method, its trigger and what is due.

    Raises
    ------
    ValueError
        When the full charge is not positive.
    """
    if not full_charge_kg > 0.0:
        raise ValueError(f"full_charge_kg must be above 0, got {full_charge_kg!r}")
    made = [one for one in sorted(additions, key=lambda one: one.on) if one.on <= on]
    if method is Method.ANNUALIZED:
        rate = annualized_rate(made, full_charge_kg)
    else:
        rate = rolling_rate(made, full_charge_kg, on=on, repaired_on=repaired_on)
    above = rate > TRIGGERS[kind] and bool(made) and (repaired_on is None or made[-1].on > repaired_on)
    due = made[-1].on + timedelta(days=REPAIR_DAYS) if above else None
    years = sorted({one.on.year for one in made})
    chronic = [
        year
        for year in years
        if sum(one.mass_kg for one in made if one.on.year == year) >= CHRONIC_SHARE * full_charge_kg
    ]
    return LeakRate(method, rate, TRIGGERS[kind], due, tuple(chronic))
