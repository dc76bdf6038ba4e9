"""A rule book: the rules of one law as a table, what the law admits, and what of it has not been read."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from service.cylinders.books.rule import Rule

Subject = Literal[
    "filling", "requalification", "shipping", "records", "carriage", "concentration", "recovery"
]


@dataclass(frozen=True, slots=True)
class RuleBook:
    """
    One law.

    Parameters
    ----------
    code, name
        ``us``; in words.
    rules
        What this law says, by the code of the rule; a rule that it lacks is the shop's own or another law's.
    admits
        Families of marks that may be filled under it: ``DOT``, ``ISO``.
    foreign
        The rule that refuses other marks; None where it has not been read.
    missing
        Subjects that could not be read, with what to consult; every question about them is refused by that name.
    stamp_order
        How a requalification date is stamped.
    concentration
        Which limit holds in a room: ``rcl`` (ppm) or ``practical-limit`` (kg/m3).
    shipping
        Form of the shipping description.
    """

    code: str
    name: str
    rules: Mapping[str, Rule]
    admits: frozenset[str]
    foreign: Rule | None = None
    missing: Mapping[Subject, str] = field(default_factory=dict)
    stamp_order: Literal["month-first", "year-first"] = "month-first"
    concentration: Literal["rcl", "practical-limit"] = "rcl"
    shipping: Literal["49-cfr", "adr"] | None = "49-cfr"

    def cite(self, rule: Rule) -> Rule:
        """The rule as this law words it; the same rule where it has no words of its own."""
        return self.rules.get(rule.code, rule)
