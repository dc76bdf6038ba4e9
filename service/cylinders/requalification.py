"""When a cylinder is due for requalification, and what may be done with it until then and after.

49 CFR 180.209(a) table 1 for the periods, 180.205(c) and 173.301(a)(6) for what an overdue cylinder may do.
Five years is the one period that needs no proof for recovered refrigerant: the longer ones presuppose
contents commercially free of corroding components (moisture under 55 ppm, 180.203), so they rest on the
owner's explicit statement.
"""

import calendar
import re
from collections.abc import Collection
from dataclasses import dataclass, replace
from datetime import date, timedelta
from enum import StrEnum
from functools import lru_cache
from typing import Final

from service.cylinders.books import BOOKS
from service.cylinders.markings import Marks
from service.cylinders.requalification_stamp import Stamp
from service.cylinders.rules import (
    LAW_MISSING,
    NON_REFILLABLE,
    OVERDUE,
    PERIOD_5,
    PERIOD_10_PROOF,
    PERIOD_12,
    PERIOD_VISUAL,
    REQUALIFICATION_UNKNOWN,
    SERVICE_LIFE,
    Breach,
    Rule,
)  # fmt: skip

DUE_SOON_DAYS: Final = 60
"""A date that is no further off is due soon (a choice) [d]."""
PERIOD_P200: Final = "requalification-period-p200"
"""Code of the rule that gives the period by ADR."""


class State(StrEnum):
    """Where a cylinder stands against its date."""

    CURRENT = "current"
    DUE_SOON = "due-soon"
    OVERDUE = "overdue"
    UNKNOWN = "unknown"
    NEVER = "never"


class Condition(StrEnum):
    """What the owner states of a cylinder's use, which decides the period."""

    DEFAULT = "default"
    COATED_VOLUMETRIC = "coated-non-corrosive-volumetric"
    COATED_PROOF = "coated-non-corrosive-proof"
    EXTERNAL_VISUAL = "external-visual"


_FIVE_YEARS: Final = re.compile(r"^(4B|4BA|4BW|4B240ET|4E|3A|3AA|3AX|3AAX|3AL|3B|3HT|4AA|4D|4DA|4DS|3A480X)$")
_COATED: Final = re.compile(r"^(4B|4BA|4BW|4E)$")


@dataclass(frozen=True, slots=True)
class Requalification:
    """Answer to: when is it due, and where does it stand.

    Parameters
    ----------
    state : State
        ``current``, ``due-soon``, ``overdue``, ``unknown`` or ``never`` (non-refillable).
    due_on : date or None
        Last day on which it may be filled.
    rule : Rule
        What the date rests on.
    """

    state: State
    due_on: date | None
    rule: Rule

    @property
    def may_be_filled(self) -> bool:
        """Only while current."""
        return self.state in {State.CURRENT, State.DUE_SOON}

    @property
    def may_be_emptied_and_shipped(self) -> bool:
        """A sound cylinder may always be emptied, whatever its date (180.205(c); PHMSA letter 09-0148)."""
        return True


@dataclass(frozen=True, slots=True)
class Dates:
    """What is stamped on a cylinder and stated by its owner about dates."""

    stamp: Stamp | None = None
    is_manufacture: bool = False
    condition: Condition = Condition.DEFAULT
    owner_statement: str | None = None
    stated_due_on: date | None = None
    service_life_ends: date | None = None
    toxic_service: bool = False


TOXIC_SERVICE = frozenset({"R-717", "R-764"})
"""Cylinders for these have the shorter period of ADR P200 for toxic gases."""


def for_contents(dates: Dates, believable: Collection[str]) -> Dates:
    """The dates of a cylinder that may hold these: in toxic service if any of them is toxic, by whatever label."""
    return replace(dates, toxic_service=True) if TOXIC_SERVICE.intersection(believable) else dates


def period_years(marks: Marks, dates: Dates) -> tuple[int, Rule] | None:
    """Period [years] of a refillable cylinder and its rule; None where the specification or the law has none here.

    A longer period than five years for a DOT specification needs the owner's statement in words; without it five
    years hold. Marks of another law keep their own period where the law of the place has none for them.
    """
    law = BOOKS[marks.law]
    if "requalification" in law.missing:
        return None
    if law.code == "eu" and marks.standard == "ISO":
        return (5 if dates.toxic_service else 10), law.rules[PERIOD_P200]
    spec = marks.specification or ""
    if not _FIVE_YEARS.match(spec):
        return None
    if dates.owner_statement and _COATED.match(spec):
        if dates.condition is Condition.COATED_VOLUMETRIC:
            return 12, PERIOD_12
        if dates.condition is Condition.COATED_PROOF:
            return (12 if dates.is_manufacture else 10), PERIOD_10_PROOF
    if dates.condition is Condition.EXTERNAL_VISUAL and dates.owner_statement:
        return 5, PERIOD_VISUAL
    return 5, PERIOD_5


def last_day_of(year: int, month: int) -> date:
    """Last day of a month: a cylinder may be filled through the month in which it is due."""
    return date(year, month, calendar.monthrange(year, month)[1])


@lru_cache(maxsize=4096)
def requalification(
    marks: Marks, dates: Dates, *, on: date, due_soon_days: int = DUE_SOON_DAYS
) -> Requalification:
    """State of a cylinder's requalification on a day.

    Parameters
    ----------
    marks : Marks
        Specification.
    dates : Dates
        Stamp, condition, owner's statement.
    on : date
        The day.
    due_soon_days : int
        How long before the last day it counts as due soon [d].
    """
    if marks.refillable is False:
        return Requalification(State.NEVER, None, NON_REFILLABLE)
    if dates.stated_due_on is not None:
        due_on, rule = last_day_of(dates.stated_due_on.year, dates.stated_due_on.month), OVERDUE
    else:
        period = period_years(marks, dates)
        if dates.stamp is None or period is None:
            return Requalification(State.UNKNOWN, None, REQUALIFICATION_UNKNOWN)
        due_on, rule = last_day_of(dates.stamp.year + period[0], dates.stamp.month), period[1]
    if on > due_on:
        return Requalification(State.OVERDUE, due_on, OVERDUE)
    soon = on > due_on - timedelta(days=due_soon_days)
    return Requalification(State.DUE_SOON if soon else State.CURRENT, due_on, rule)


def breaches(marks: Marks, dates: Dates, *, on: date) -> list[Breach]:
    """Why the dates forbid filling; a non-refillable cylinder is another rule's business."""
    found = []
    answer, law = requalification(marks, dates, on=on), BOOKS[marks.law]
    if answer.state is State.OVERDUE and answer.due_on is not None:
        found.append(
            Breach(law.cite(OVERDUE), f"it was due by {answer.due_on.isoformat()}, today is {on.isoformat()}")
        )
    if answer.state is State.UNKNOWN:
        what = "no stamp is recorded" if dates.stamp is None else f"no period is known for {marks.text!r}"
        rule = law.cite(REQUALIFICATION_UNKNOWN)
        if "requalification" in law.missing:
            rule, what = LAW_MISSING, f"{law.name}: {law.missing['requalification']}"
        found.append(Breach(rule, what))
    if dates.service_life_ends is not None and on > dates.service_life_ends:
        found.append(Breach(SERVICE_LIFE, f"its service life ended on {dates.service_life_ends.isoformat()}"))
    return found
