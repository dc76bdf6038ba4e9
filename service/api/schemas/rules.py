"""Schemas for rules and filling limits: every answer names the rule, its clause and how it is known."""

from dataclasses import dataclass
from typing import get_args

import marshmallow as ma

from service.api.http.answers import Answer, Itself
from service.api.http.fields import Text, Truth, listed
from service.api.http.quantities import Quantity, kilograms, pounds
from service.cylinders.books.rule import Mark
from service.cylinders.filling import FillingLimit, Limit
from service.cylinders.rules import Rule


@dataclass(frozen=True, slots=True)
class Said:
    """A rule, and the numbers at hand; breaches, cautions and limits have both."""

    rule: Rule
    detail: str | None = None


class RuleSchema(Answer):
    """A rule, where it stands, and the numbers at hand."""

    of = Said
    inside = "rule"

    code = Text(required=True)
    text = Text(required=True, longest=2000)
    source = Text(required=True, attribute="citation", metadata={"description": "clause"})
    edition = Text(required=True)
    mark = Text(required=True, metadata=listed(get_args(Mark)))
    may_override = Truth(required=True)
    detail = Text(required=True, longest=2000, allow_none=True)


class LimitSchema(Answer):
    """The greatest net mass that a rule allows."""

    of = Limit

    rule = Itself(RuleSchema, required=True)
    net_mass_kg = Quantity(kilograms, "mass_kg", required=True)
    net_mass_lb = Quantity(pounds, "mass_kg", required=True)


@dataclass(frozen=True, slots=True)
class LimitOf:
    """A filling limit, of a cylinder with this tare [kg]."""

    limit: FillingLimit
    tare_kg: float | None

    @property
    def gross_mass_kg(self) -> float | None:
        """What the scale may show [kg]."""
        return None if self.tare_kg is None else self.tare_kg + self.limit.mass_kg


def limit_of(limit: FillingLimit | None, tare_kg: float | None) -> LimitOf | None:
    """The limit of a cylinder, where there is one."""
    return None if limit is None else LimitOf(limit, tare_kg)


class FillingSchema(Answer):
    """Filling limit of a cylinder for one designation."""

    of = LimitOf
    inside = "limit"

    designation = Text(required=True)
    net_mass_kg = Quantity(kilograms, "limit.mass_kg", required=True)
    net_mass_lb = Quantity(pounds, "limit.mass_kg", required=True)
    gross_mass_kg = Quantity(kilograms, "gross_mass_kg", required=True, allow_none=True)
    gross_mass_lb = Quantity(pounds, "gross_mass_kg", required=True, allow_none=True)
    governed_by = ma.fields.Nested(RuleSchema, required=True, attribute="limit.governing")
    limits = ma.fields.List(ma.fields.Nested(LimitSchema), required=True)
