"""Quantities in either unit on the way in, in both on the way out; SI between."""

from collections.abc import Callable, Mapping, MutableMapping
from dataclasses import dataclass
from itertools import combinations
from typing import Any

import marshmallow as ma

from service import units
from service.api.http.fields import Number, QueryNumber, Within
from service.api.http.json_types import JsonObject
from service.api.http.strict import Strict
from service.operations.support.atmosphere import PressureReading

Convert = Callable[[Any], Any]
Loaded = MutableMapping[str, Any]
"""A body between its schema and its type: names are those of the schema, which a test compares with the type."""


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

    @property
    def targets(self) -> set[str]:
        """The names inside."""
        return {target for target, _ in self.fields.values()}


class EitherUnit(Strict):
    """A schema of which some fields exclude each other; ``either`` says which, and the document too."""

    either: tuple[Either, ...] = ()

    @ma.post_load
    def to_si(self, data: Loaded, **_: Any) -> Loaded:
        """Convert to SI, refusing two units of one quantity."""
        for group in self.either:
            _to_si(group, data)
        return data

    def loaded_names(self) -> dict[str, bool]:
        """The same, with each group under its one name."""
        names = super().loaded_names()
        for group in self.either:
            given = [names.pop(name) for name in group.fields if name in names]
            is_sure = group.required and len(group.targets) == 1
            names |= dict.fromkeys(group.targets, is_sure or any(given))
        return names

    @classmethod
    def json_schema(cls) -> JsonObject:
        """What JSON Schema can say of the exclusions."""
        rules: list[JsonObject] = []
        for group in cls.either:
            if group.required:
                rules.append({"oneOf": [{"required": [name]} for name in group.fields]})
            else:
                pairs = combinations(group.fields, 2)
                rules += [{"not": {"required": [first, second]}} for first, second in pairs]
        return {"allOf": rules} if rules else {}


def _to_si(group: Either, data: Loaded) -> None:
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


class OfPressure(EitherUnit):
    """A schema with a pressure as somebody read it, which becomes one ``pressure``; None where it has none."""

    def built(self, loaded: Any) -> Any:
        """Gather what belongs to the pressure."""
        parts = {name: loaded.pop(name, None) for name in _PARTS}
        is_read = parts["absolute_pa"] is not None or parts["gauge_pa"] is not None
        return super().built({**loaded, "pressure": PressureReading(**parts) if is_read else None})

    def loaded_names(self) -> dict[str, bool]:
        """The same, with the parts as one."""
        return {
            **{name: is_given for name, is_given in super().loaded_names().items() if name not in _PARTS},
            "pressure": True,
        }


_PARTS = ("absolute_pa", "gauge_pa", "ambient_pa", "elevation_m")
TEMPERATURE = {"temperature_c": ("temp_k", units.k_from_c), "temperature_f": ("temp_k", units.k_from_f)}
PRESSURE = {
    "absolute_pressure_kpa": ("absolute_pa", units.pa_from_kpa),
    "gauge_pressure_kpa": ("gauge_pa", units.pa_from_kpa),
    "gauge_pressure_psi": ("gauge_pa", units.pa_from_psi),
}
AMBIENT = Either({"ambient_pressure_kpa": ("ambient_pa", units.pa_from_kpa)})
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


class Quantity(Number):
    """
    A number of an answer in one of its units, written from what is SI inside.

    Parameters
    ----------
    write
        The conversion into the field's unit.
    of
        Attribute with the value in SI.
    """

    def __init__(self, write: Callable[[float], float], of: str, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.write, self.of = write, of

    def _serialize(self, value: Any, attr: str | None, obj: Any, **kwargs: Any) -> Any:
        return None if value is None else super()._serialize(self.write(value), attr, obj, **kwargs)


def kpa(pressure_pa: float) -> float:
    """Kilopascals of a pressure [Pa], to a pascal's thousandth."""
    return round(units.kpa_from_pa(pressure_pa), 6)


def psi(pressure_pa: float) -> float:
    """Pounds per square inch of a pressure [Pa]."""
    return round(units.psi_from_pa(pressure_pa), 6)


def celsius(temp_k: float) -> float:
    """Degrees Celsius of a temperature [K]."""
    return round(units.c_from_k(temp_k), 6)


def fahrenheit(temp_k: float) -> float:
    """Degrees Fahrenheit of a temperature [K]."""
    return round(units.f_from_k(temp_k), 6)


def kelvins(difference_k: float) -> float:
    """Kelvins of a temperature difference [K]."""
    return round(difference_k, 6)


def fahrenheit_degrees(difference_k: float) -> float:
    """Degrees Fahrenheit of a temperature difference [K]."""
    return round(difference_k * 1.8, 6)


def kilograms(mass_kg: float) -> float:
    """Kilograms of a mass [kg], to a milligram."""
    return round(mass_kg, 6)


def pounds(mass_kg: float) -> float:
    """Pounds of a mass [kg]."""
    return round(units.lb_from_kg(mass_kg), 6)
