"""Schemas for what else was seen of the contents than pressure and temperature."""

from collections.abc import Mapping, Sequence
from typing import ClassVar

import marshmallow as ma
from marshmallow import validate

from service.api.fields import Text, Truth, Within
from service.api.quantities import Either, EitherUnit, number
from service.api.strict import Strict
from service.operations.observing import Measured, Observed, Part
from service.verdict.observations import LEAST_NAMED, MOST_NAMED

M_PER_INCH = 0.0254


class PartSchema(Strict):
    """One refrigerant of a measured composition."""

    into = Part

    designation = Text(longest=40, required=True)
    mass_fraction = number(Within(0, 1), required=True)


class CompositionSchema(Strict):
    """What an analyser or a laboratory found, without air, and its standard uncertainty (k = 1)."""

    into = Measured

    parts = ma.fields.List(ma.fields.Nested(PartSchema), required=True, validate=validate.Length(1, 12))
    mass_fraction_uncertainty = number(Within(0.0001, 0.5))

    @ma.validates_schema
    def whole(self, data: Mapping[str, Sequence[Part]], **_: object) -> None:
        """Refuse parts that do not make up the contents."""
        named = sum(part.mass_fraction for part in data["parts"])
        if not LEAST_NAMED <= named <= MOST_NAMED:
            expected = f"mass fractions that add up to {LEAST_NAMED:g} to {MOST_NAMED:g}"
            raise ma.ValidationError(expected, "parts")


def _metres(inches: float) -> float:
    return inches * M_PER_INCH


class ObservationsSchema(EitherUnit):
    """What else was seen of the contents; each is weighed together with the pairs."""

    into: ClassVar[type] = Observed
    either: tuple[Either, ...] = (
        Either(
            {
                "liquid_level_height_m": ("liquid_level_height_m", float),
                "liquid_level_height_in": ("liquid_level_height_m", _metres),
                "liquid_level_fraction": ("liquid_level_fraction", float),
            }
        ),
        Either(
            {
                "cylinder_diameter_m": ("cylinder_diameter_m", float),
                "cylinder_diameter_in": ("cylinder_diameter_m", _metres),
            }
        ),
    )

    liquid_level_height_m = number(
        Within(0, 3),
        metadata={"description": "of the line on the wall above the floor, the cylinder standing"},
    )
    liquid_level_height_in = number(Within(0, 120))
    liquid_level_fraction = number(Within(0, 1), metadata={"description": "of the volume"})
    cylinder_diameter_m = number(
        Within(0.05, 2), metadata={"description": "outer; the usual one of such a cylinder, if not stated"}
    )
    cylinder_diameter_in = number(Within(2, 80))

    combustible_gas_found = Truth(
        metadata={"description": "whether a combustible-gas detector at the valve sounded"}
    )
    analyser = ma.fields.Nested(CompositionSchema)
    laboratory = ma.fields.Nested(CompositionSchema)
