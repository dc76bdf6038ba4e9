"""A verdict's document (SI, plain data) as the API answers it, in both units."""

from typing import Any

from service.api.quantities import differences, kpa, masses, pressures, psi, temperatures
from service.store.verdicts import StoredVerdict

Document = dict[str, Any]


def encode(document: Document) -> Document:
    """A verdict as JSON."""
    encoded = {
        "identity": _identity(document["identity"]),
        "contamination": _contamination(document["contamination"]),
        "contents_state": document["contents_state"],
        "claim": document.get("claim"),
        "disposition": document["disposition"],
        "reasons": document["reasons"],
        "next_measurement": _next(document["next_measurement"]),
        "cautions": document["cautions"],
        "model_version": document["model_version"],
    }
    if document.get("explain") is not None:
        encoded["explain"] = document["explain"]
    if document.get("chart") is not None:
        encoded["chart"] = _chart(document["chart"])
    return encoded


def encode_stored(serial: str, verdict: StoredVerdict) -> Document:
    """A stored verdict as JSON."""
    return {
        "id": verdict.id,
        "cylinder": serial,
        "epoch": verdict.epoch,
        "pair": verdict.pair_id,
        "reached_at": verdict.reached_at,
        **encode(verdict.document),
    }


def _identity(identity: Document) -> Document:
    return {
        "finding": identity["finding"],
        "candidates": [
            {
                "designation": candidate["designation"],
                "probability": candidate["probability"],
                **temperatures("saturation_temperature", candidate["saturation_temp_k"]),
                **differences("temperature_difference", candidate["temp_difference_k"]),
            }
            for candidate in identity["candidates"]
        ],
    }


def _contamination(contamination: Document) -> Document:
    air = contamination["air"]
    return {
        "finding": contamination["finding"],
        "probabilities": contamination["probabilities"],
        **pressures("air_partial_pressure", air["partial_pressure_pa"] if air else None),
        "air": _air(air) if air else None,
        "partners": contamination["partners"],
        "detection_limits": [_limit(limit) for limit in contamination["detection_limits"]],
    }


def _air(air: Document) -> Document:
    rest = {name: value for name, value in air.items() if not name.endswith(("_pa", "_kg"))}
    return {
        **pressures("partial_pressure", air["partial_pressure_pa"]),
        **pressures("partial_pressure_low", air["partial_pressure_low_pa"]),
        **pressures("partial_pressure_high", air["partial_pressure_high_pa"]),
        **masses("mass", air["mass_kg"]),
        **rest,
    }


def _limit(limit: Document) -> Document:
    encoded: Document = {"contaminant": limit["contaminant"]}
    if limit["partial_pressure_pa"] is not None:
        encoded |= pressures("partial_pressure", limit["partial_pressure_pa"])
    if limit["mass_fraction"] is not None:
        encoded["mass_fraction"] = limit["mass_fraction"]
    if limit.get("note"):
        encoded["note"] = limit["note"]
    return encoded


def _next(measurement: Document | None) -> Document | None:
    if measurement is None:
        return None
    return {
        "action": measurement["action"],
        "code": measurement["code"],
        **temperatures("temperature", measurement["temp_k"]),
        "expected_information_bits": measurement["expected_information_bits"],
        "alternatives": [
            {"code": code, "expected_information_bits": bits} for code, bits in measurement["alternatives"]
        ],
    }


def _chart(chart: Document) -> Document:
    return {
        "curves": [_curve(curve) for curve in chart["curves"]],
        "pairs": [_ellipse(ellipse) for ellipse in chart["pairs"]],
    }


def _curve(curve: Document) -> Document:
    return {
        **{name: curve[name] for name in ("label", "kind", "designation", "probability")},
        **_series("temperature", curve["temp_k"]),
        **_series("pressure", curve["pressure_pa"]),
        **_series("low", curve["low_pa"]),
        **_series("high", curve["high_pa"]),
    }


def _ellipse(ellipse: Document) -> Document:
    return {
        **temperatures("temperature", ellipse["temp_k"]),
        **pressures("pressure", ellipse["pressure_pa"]),
        **differences("temperature_uncertainty", ellipse["temp_sd_k"]),
        **pressures("pressure_uncertainty", ellipse["pressure_sd_pa"]),
        **_series("outline_temperature", ellipse["outline_temp_k"]),
        **_series("outline_pressure", ellipse["outline_pressure_pa"]),
    }


def _series(name: str, values: list[float | None]) -> Document:
    if "temperature" in name:
        both = [temperatures("t", value) for value in values]
        return {f"{name}_c": [t["t_c"] for t in both], f"{name}_f": [t["t_f"] for t in both]}
    return {f"{name}_kpa": [kpa(value) for value in values], f"{name}_psi": [psi(value) for value in values]}
