"""What the next thing to do forbids, and where a cylinder stands against its date."""

import calendar
from datetime import date

from service.cylinders.judgement.belief import Content
from tests.support.plain.contents import (
    believable,
    believed,
    chance,
    empty,
    found_air,
    label_is_wrong,
    liquid_full,
    name_of,
)
from tests.support.plain.limits import NOT_READ, least_limit
from tests.support.plain.marks import against
from tests.support.plain.tables import densities, end_of, volume
from tests.support.random_cylinders import Cylinder

FIVE_YEARS = ("4B", "4BA", "4BW", "4E", "3A", "3AA", "3AL", "3B", "4AA")
FORBIDDEN = {"keep": "", "measure-again": "in out", "hold": "in out", "recover-and-recycle": "in",
             "send-to-reclaimer": "in out", "send-for-destruction": "in"}  # fmt: skip


def retest(c: Cylinder, on: date) -> str:
    """``current``, ``due-soon``, ``overdue``, ``unknown`` or ``never``; good through the last day of its month."""
    if c.disposable:
        return "never"
    due, years = c.stated_due, period(c)
    if due is None and c.stamp is not None and years is not None:
        due = date(c.stamp[0] + years, c.stamp[1], 1)
    if due is None:
        return "unknown"
    last = date(due.year, due.month, calendar.monthrange(due.year, due.month)[1])
    return "overdue" if on > last else "due-soon" if (last - on).days < 60 else "current"


def period(c: Cylinder) -> int | None:
    if c.law in NOT_READ:
        return None
    if c.law == "eu" and c.ph_bar is not None:
        return 5 if c.toxic_service or {"R-717", "R-764"} & set(believable(believed(c))) else 10
    if c.spec not in FIVE_YEARS:
        return None
    coated = c.statement and c.spec in ("4B", "4BA", "4BW", "4E")
    if coated and c.condition == "coated-non-corrosive-volumetric":
        return 12
    if coated and c.condition == "coated-non-corrosive-proof":
        return 12 if c.first_stamp else 10
    return 5


def by_date(c: Cylinder, on: date) -> set[str]:
    found = {"overdue": {"requalification-overdue"}, "unknown": {"requalification-unknown"}}.get(
        retest(c, on), set()
    )
    if retest(c, on) == "unknown" and c.law in NOT_READ:
        found = {"law-not-read"}
    return found | ({"service-life-over"} if c.life_ends is not None and on > c.life_ends else set())


def forbidden(c: Cylinder, belief: list[Content]) -> str:
    """Ways that the advice forbids; taking out is the remedy where it is too full or the wrong cylinder."""
    if c.standing != "in-service":
        return "in out"
    if in_danger(c, belief) or must_move(c, belief):
        return "in"
    ways = "in out" if c.holds else ""
    if c.found_pressure_pa is not None and "not-empty" not in c.released:
        ways += " in"
    if name_of(c, belief)[0] == "mixed":
        ways += " in"
    elif label_is_wrong(c, belief) and "label" not in c.released:
        ways += " in" if name_of(c, belief)[0] == "single" else " in out"
    if c.reading is not None and not empty(c) and c.reading.disposition not in c.released:
        ways += " " + FORBIDDEN[c.reading.disposition]
    return ways


def by_advice(c: Cylinder, belief: list[Content], way: str) -> set[str]:
    """The advice as a reason, where it is not that of a hold or of having left, which are reasons themselves."""
    gone = c.standing != "in-service"
    if gone or (c.holds and not in_danger(c, belief) and not must_move(c, belief)):
        return set()
    return {"advice"} if way in forbidden(c, belief).split() else set()


def in_danger(c: Cylinder, belief: list[Content]) -> bool:
    """Overfull, or full of liquid with 10 % or more."""
    return over(c, belief) or liquid_full(c) >= 0.10


def over(c: Cylinder, belief: list[Content]) -> bool:
    least, held = least_limit(c, believable(belief)), 0.0 if empty(c) else c.net_kg
    if c.law in NOT_READ and held and c.water_kg is not None:
        return any(
            densities(one, min(55.0, end_of(one)))[0] <= held / volume(c) for one in believable(belief)
        )
    return not empty(c) and least is not None and (held or 0.0) > least + 1e-9


def must_move(c: Cylinder, belief: list[Content]) -> bool:
    """Its marks do not permit what is likely in it, or are not for what burns and is likely in it."""
    if empty(c):
        return False
    air = found_air(c)
    holding = {"non-refillable", "marks-unknown", "flammable-not-marked", "law-not-read", "marks-of-another-law",
               "no-conformity-mark"}  # fmt: skip
    wrong = chance(belief, lambda name: against(c, name, air, c.net_kg) - holding)
    return (
        wrong >= 0.5
        or chance(belief, lambda name: "flammable-not-marked" in against(c, name, air, c.net_kg)) >= 0.5
    )
