"""A verdict (SI) as the API answers it, in both units."""

from collections.abc import Sequence
from typing import Any

from service.api.quantities import differences, kpa, masses, pressures, psi, temperatures
from service.cylinders.judgement.advice import Advice
from service.store.verdicts import StoredVerdict
from service.verdict.document import plain
from service.verdict.model import (
    AirEstimate,
    Candidate,
    Chart,
    Contamination,
    Curve,
    DetectionLimit,
    Ellipse,
    NextMeasurement,
    Verdict,
)

Encoded = dict[str, Any]


def encode(verdict: Verdict) -> Encoded:
    """A verdict as JSON."""
    encoded = {
        "identity": {
            "finding": verdict.identity.finding,
            "candidates": [_candidate(candidate) for candidate in verdict.identity.candidates],
        },
        "contamination": _contamination(verdict.contamination),
        "contents_state": plain(verdict.contents_state),
        "claim": plain(verdict.claim),
        "reads_the_same": plain(verdict.reads_the_same),
        "disposition": plain(verdict.disposition),
        "reasons": list(verdict.reasons),
        "next_measurement": _next(verdict.next_measurement),
        "cautions": list(verdict.cautions),
        "model_version": verdict.model_version,
    }
    if verdict.explain is not None:
        encoded["explain"] = plain(verdict.explain)
    if verdict.chart is not None:
        encoded["chart"] = _chart(verdict.chart)
    return encoded


def encode_stored(serial: str, verdict: StoredVerdict, advice: Advice | None = None) -> Encoded:
    """
    A stored verdict as JSON.

    What to do with a cylinder is more than its readings say: with ``advice`` the disposition is that of its judgement.
    """
    encoded = encode(verdict.found)
    if advice is not None:
        encoded["disposition"] = {
            **encoded["disposition"],
            "code": advice.disposition,
            "text": advice.text,
        }
    return {
        "id": verdict.id,
        "cylinder": serial,
        "epoch": verdict.epoch,
        "pair": verdict.pair_id,
        "reached_at": verdict.reached_at,
        **encoded,
    }


def _candidate(candidate: Candidate) -> Encoded:
    return {
        "designation": candidate.designation,
        "probability": candidate.probability,
        **temperatures("saturation_temperature", candidate.saturation_temp_k),
        **differences("temperature_difference", candidate.temp_difference_k),
        "states": dict(candidate.states),
    }


def _contamination(found: Contamination) -> Encoded:
    return {
        "finding": found.finding,
        "probabilities": dict(found.probabilities),
        **pressures("air_partial_pressure", found.air_partial_pressure_pa),
        "air": _air(found.air) if found.air else None,
        "partners": plain(found.partners),
        "detection_limits": [_limit(limit) for limit in found.detection_limits],
    }


def _air(air: AirEstimate) -> Encoded:
    return {
        **pressures("partial_pressure", air.partial_pressure_pa),
        **pressures("partial_pressure_low", air.partial_pressure_low_pa),
        **pressures("partial_pressure_high", air.partial_pressure_high_pa),
        **masses("mass", air.mass_kg),
        "vapour_volume_share": air.vapour_volume_share,
        "vapour_volume_share_low": air.vapour_volume_share_low,
        "vapour_volume_share_high": air.vapour_volume_share_high,
        "excess_share": air.excess_share,
        "dissolved_fraction": air.dissolved_fraction,
    }


def _limit(limit: DetectionLimit) -> Encoded:
    encoded: Encoded = {"contaminant": limit.contaminant}
    if limit.partial_pressure_pa is not None:
        encoded |= pressures("partial_pressure", limit.partial_pressure_pa)
    if limit.mass_fraction is not None:
        encoded["mass_fraction"] = limit.mass_fraction
    if limit.note:
        encoded["note"] = limit.note
    return encoded


def _next(measurement: NextMeasurement) -> Encoded:
    return {
        "action": measurement.action,
        "code": measurement.code,
        **temperatures("temperature", measurement.temp_k),
        "expected_information_bits": measurement.expected_information_bits,
        "alternatives": [
            {
                "code": other.code,
                "action": other.action,
                **temperatures("temperature", other.temp_k),
                "expected_information_bits": other.expected_information_bits,
            }
            for other in measurement.alternatives
        ],
    }


def _chart(chart: Chart) -> Encoded:
    return {
        "curves": [_curve(curve) for curve in chart.curves],
        "pairs": [_ellipse(ellipse) for ellipse in chart.pairs],
    }


def _curve(curve: Curve) -> Encoded:
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


def _ellipse(ellipse: Ellipse) -> Encoded:
    return {
        **temperatures("temperature", ellipse.temp_k),
        **pressures("pressure", ellipse.pressure_pa),
        **differences("temperature_uncertainty", ellipse.temp_sd_k),
        **pressures("pressure_uncertainty", ellipse.pressure_sd_pa),
        **_temperatures("outline_temperature", ellipse.outline_temp_k),
        **_pressures("outline_pressure", ellipse.outline_pressure_pa),
    }


def _temperatures(name: str, values_k: Sequence[float]) -> Encoded:
    both = [temperatures("t", value) for value in values_k]
    return {f"{name}_c": [t["t_c"] for t in both], f"{name}_f": [t["t_f"] for t in both]}


def _pressures(name: str, values_pa: Sequence[float]) -> Encoded:
    return {f"{name}_kpa": [kpa(v) for v in values_pa], f"{name}_psi": [psi(v) for v in values_pa]}
