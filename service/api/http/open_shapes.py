"""Parts of answers whose shape the document leaves open: air, explanations, drawings."""

from collections.abc import Callable, Sequence
from typing import Any

import marshmallow as ma

from service.api.http.json_types import Json, JsonObject
from service.api.http.quantities import (
    celsius,
    fahrenheit,
    fahrenheit_degrees,
    kelvins,
    kilograms,
    kpa,
    pounds,
    psi,
)
from service.verdict.model import AirEstimate, Chart, Curve, Ellipse


class Document(ma.fields.Dict):
    """An object of open shape, written by a function."""

    def __init__(self, write: Callable[[Any], JsonObject], **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.write = write

    def _serialize(self, value: Any, *_: Any, **__: Any) -> Any:
        return None if value is None else self.write(value)


def air(found: AirEstimate) -> JsonObject:
    """Air beside the refrigerant, in both units."""
    low, high = found.partial_pressure_low_pa, found.partial_pressure_high_pa
    return {
        "partial_pressure_kpa": kpa(found.partial_pressure_pa),
        "partial_pressure_psi": psi(found.partial_pressure_pa),
        "partial_pressure_low_kpa": kpa(low),
        "partial_pressure_low_psi": psi(low),
        "partial_pressure_high_kpa": kpa(high),
        "partial_pressure_high_psi": psi(high),
        "mass_kg": None if found.mass_kg is None else kilograms(found.mass_kg),
        "mass_lb": None if found.mass_kg is None else pounds(found.mass_kg),
        "vapour_volume_share": found.vapour_volume_share,
        "vapour_volume_share_low": found.vapour_volume_share_low,
        "vapour_volume_share_high": found.vapour_volume_share_high,
        "excess_share": found.excess_share,
        "dissolved_fraction": found.dissolved_fraction,
    }


def chart(drawn: Chart) -> JsonObject:
    """What is needed to draw a verdict, in both units."""
    return {"curves": [_curve(one) for one in drawn.curves], "pairs": [_ellipse(one) for one in drawn.pairs]}


def _curve(curve: Curve) -> JsonObject:
    return {
        "label": curve.label,
        "kind": curve.kind,
        "designation": curve.designation,
        "probability": curve.probability,
        **_temperatures("temperature", curve.temp_k),
        **_pressures("pressure", curve.pressure_pa),
        **_pressures("low", curve.low_pa),
        **_pressures("high", curve.high_pa),
    }


def _ellipse(ellipse: Ellipse) -> JsonObject:
    return {
        "temperature_c": celsius(ellipse.temp_k),
        "temperature_f": fahrenheit(ellipse.temp_k),
        "pressure_kpa": kpa(ellipse.pressure_pa),
        "pressure_psi": psi(ellipse.pressure_pa),
        "temperature_uncertainty_k": kelvins(ellipse.temp_sd_k),
        "temperature_uncertainty_f": fahrenheit_degrees(ellipse.temp_sd_k),
        "pressure_uncertainty_kpa": kpa(ellipse.pressure_sd_pa),
        "pressure_uncertainty_psi": psi(ellipse.pressure_sd_pa),
        **_temperatures("outline_temperature", ellipse.outline_temp_k),
        **_pressures("outline_pressure", ellipse.outline_pressure_pa),
    }


def _temperatures(name: str, values_k: Sequence[float]) -> dict[str, Json]:
    return {f"{name}_c": [celsius(k) for k in values_k], f"{name}_f": [fahrenheit(k) for k in values_k]}


def _pressures(name: str, values_pa: Sequence[float]) -> dict[str, Json]:
    return {f"{name}_kpa": [kpa(pa) for pa in values_pa], f"{name}_psi": [psi(pa) for pa in values_pa]}
