"""Quantities in either unit on the way in, in both on the way out; SI between."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from itertools import combinations
from typing import Any

import marshmallow as ma

from service import units
from service.api.fields import Number, QueryNumber, Within
from service.api.strict import Strict

Convert = Callable[[Any], Any]


@dataclass(frozen=True, slots=True)
class Either:
    """
    Fields of which at most one may be given.

    Parameters
    ----------
    fields
        Field to the name inside (SI) and the conversion from the field's unit.
    required
        Whether one of them has to be there.
    """

    fields: Mapping[str, tuple[str, Convert]]
    required: bool = False


class EitherUnit(Strict):
    """A schema of which some fields exclude each other; ``either`` says which, and the document too."""

    either: tuple[Either, ...] = ()

    @ma.post_load
    def to_si(self, data: dict[str, Any], **_: Any) -> dict[str, Any]:
        """Convert to SI, refusing two units of one quantity."""
        for group in self.either:
            _to_si(group, data)
        return data

    @classmethod
    def json_schema(cls) -> dict[str, Any]:
        """What JSON Schema can say of the exclusions."""
        rules: list[dict[str, Any]] = []
        for group in cls.either:
            if group.required:
                rules.append({"oneOf": [{"required": [name]} for name in group.fields]})
            else:
                pairs = combinations(group.fields, 2)
                rules += [{"not": {"required": [first, second]}} for first, second in pairs]
        return {"allOf": rules} if rules else {}


def _to_si(group: Either, data: dict[str, Any]) -> None:
    given = [name for name in group.fields if name in data]
    names = " or ".join(group.fields)
    if len(given) > 1:
        told = {"value": {name: data[name] for name in given}, "expected": f"only one of {names}"}
        raise ma.ValidationError({given[0]: [told]})
    if not given and group.required:
        raise ma.ValidationError({next(iter(group.fields)): [{"value": None, "expected": f"one of {names}"}]})
    for name in given:
        target, convert = group.fields[name]
        value = data.pop(name)
        data[target] = None if value is None else convert(value)


def _kilo(value: float) -> float:
    return value * 1000.0


TEMPERATURE = {"temperature_c": ("temp_k", units.k_from_c), "temperature_f": ("temp_k", units.k_from_f)}
PRESSURE = {
    "absolute_pressure_kpa": ("absolute_pa", _kilo),
    "gauge_pressure_kpa": ("gauge_pa", _kilo),
    "gauge_pressure_psi": ("gauge_pa", units.pa_from_psi),
}
TEMPERATURE_C = Within(-100, 200)
TEMPERATURE_F = Within(-148, 392)
ABSOLUTE_KPA = Within(0, 20_000, min_inclusive=False)
GAUGE_KPA = Within(-110, 20_000)
GAUGE_PSI = Within(-16, 2_900)
AMBIENT_KPA = Within(30, 115)
ELEVATION_M = Within(-430, 6000)


def mass(name: str, *, required: bool = False) -> Either:
    """A mass in kilograms or pounds; ``name`` before the unit."""
    target = f"{name}_kg"
    return Either({target: (target, float), f"{name}_lb": (target, units.kg_from_lb)}, required=required)


def number(within: Within | None = None, *, query: bool = False, **kwargs: Any) -> Number:
    """A number field with a range."""
    kind = QueryNumber if query else Number
    return kind(validate=within, **kwargs)


def kpa(pressure_pa: float | None) -> float | None:
    """Kilopascals of a pressure [Pa], to a pascal's thousandth."""
    return None if pressure_pa is None else round(pressure_pa / 1000.0, 6)


def psi(pressure_pa: float | None) -> float | None:
    """Pounds per square inch of a pressure [Pa]."""
    return None if pressure_pa is None else round(units.psi_from_pa(pressure_pa), 6)


def celsius(temp_k: float | None) -> float | None:
    """Degrees Celsius of a temperature [K]."""
    return None if temp_k is None else round(units.c_from_k(temp_k), 6)


def fahrenheit(temp_k: float | None) -> float | None:
    """Degrees Fahrenheit of a temperature [K]."""
    return None if temp_k is None else round(units.f_from_k(temp_k), 6)


def pounds(mass_kg: float | None) -> float | None:
    """Pounds of a mass [kg]."""
    return None if mass_kg is None else round(units.lb_from_kg(mass_kg), 6)


def temperatures(name: str, temp_k: float | None) -> dict[str, float | None]:
    """A temperature in both units, ``name`` before the unit."""
    return {f"{name}_c": celsius(temp_k), f"{name}_f": fahrenheit(temp_k)}


def differences(name: str, difference_k: float | None) -> dict[str, float | None]:
    """A temperature difference in both units."""
    if difference_k is None:
        return {f"{name}_k": None, f"{name}_f": None}
    return {f"{name}_k": round(difference_k, 6), f"{name}_f": round(difference_k * 1.8, 6)}


def pressures(name: str, pressure_pa: float | None) -> dict[str, float | None]:
    """A pressure in both units."""
    return {f"{name}_kpa": kpa(pressure_pa), f"{name}_psi": psi(pressure_pa)}


def masses(name: str, mass_kg: float | None) -> dict[str, float | None]:
    """A mass in both units."""
    return {f"{name}_kg": None if mass_kg is None else round(mass_kg, 6), f"{name}_lb": pounds(mass_kg)}
