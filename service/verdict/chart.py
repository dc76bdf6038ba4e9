"""What is needed to draw a verdict: curves with bands, pairs with ellipses, the other explanations."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from service.verdict import explain
from service.verdict.hypotheses import HypothesisSpace
from service.verdict.model import Chart, Curve, Ellipse
from service.verdict.posterior import Posterior

Floats = NDArray[np.float64]

_POINTS = 41
"""Points of a drawn curve (a choice)."""
_MARGIN_K = 15.0
"""How far a drawn curve runs beyond the readings, either way (a choice) [K]."""
_CANDIDATES = 4
"""Most curves of candidates that are drawn (a choice)."""
_WORTH_DRAWING = 0.01
"""Least probability of what is drawn (a choice) [-]."""
_OUTLINE = np.linspace(0, 2 * np.pi, 49)
"""Angles of the points of an ellipse's outline, ndarray[49] [rad]."""
_RADIUS_95 = 2.4477
"""sqrt of the 95 % point of chi-squared with two degrees of freedom, sqrt(-2 ln 0.05) (computed) [-]."""


def draw(posterior: Posterior, space: HypothesisSpace) -> Chart:
    """Clean curves of the leading candidates, the best contaminated explanations, and the pairs."""
    evidence = posterior.evidence
    low = max(233.15, float(evidence.temp_k.min()) - _MARGIN_K)
    high = min(333.15, float(evidence.temp_k.max()) + _MARGIN_K)
    temp = np.linspace(low, high, _POINTS)
    curves = [
        _clean(posterior, space, int(index), temp) for index in np.argsort(-posterior.identity)[:_CANDIDATES]
    ]
    curves += _explanations(posterior, space, temp)
    return Chart(
        curves=tuple(curve for curve in curves if curve is not None),
        pairs=tuple(_ellipse(posterior, i) for i in range(evidence.count)),
    )


def _clean(posterior: Posterior, space: HypothesisSpace, index: int, temp: Floats) -> Curve | None:
    probability = float(posterior.identity[index])
    if probability < _WORTH_DRAWING:
        return None
    block = space.blocks["none"]
    name = space.designations[index]
    row = block.start + index * block.shape[1] + int(posterior_fill(posterior, space, index))
    return _curve(space, row, name, "none", index, probability, temp)


def posterior_fill(posterior: Posterior, space: HypothesisSpace, index: int) -> int:
    """Likeliest node of the liquid fraction for one designation alone."""
    block = space.blocks["none"]
    return int(posterior.table(block)[index].argmax())


def _explanations(posterior: Posterior, space: HypothesisSpace, temp: Floats) -> list[Curve | None]:
    found: list[Curve | None] = []
    for state in ("air", "mixed", "shifted"):
        block = space.blocks[state]
        table = posterior.table(block)
        best = tuple(int(i) for i in np.unravel_index(int(table.argmax()), block.shape))
        probability = float(table.sum())
        if probability >= _WORTH_DRAWING:
            label = f"{space.designations[best[0]]}, {explain.detail(space, state, best)}"
            found.append(_curve(space, space.row(state, *best), label, state, best[0], probability, temp))
    return found


def _curve(
    space: HypothesisSpace, row: int, label: str, kind: str, index: int, probability: float, temp: Floats
) -> Curve:
    block = space.blocks["none"]
    inside = temp[(temp >= block.low_k[index]) & (temp <= block.high_k[index])]
    log_pressure = space.log_pressure(inside, [row])[0]
    spread = float(space.curve_uncertainty[index])
    return Curve(
        label=label,
        kind=kind,
        designation=space.designations[index],
        probability=probability,
        temp_k=tuple(inside.tolist()),
        pressure_pa=tuple(np.exp(log_pressure).tolist()),
        low_pa=tuple(np.exp(log_pressure - spread).tolist()),
        high_pa=tuple(np.exp(log_pressure + spread).tolist()),
    )


def _ellipse(posterior: Posterior, at: int) -> Ellipse:
    evidence = posterior.evidence
    temp, pressure = float(evidence.temp_k[at]), float(np.exp(evidence.log_pressure[at]))
    temp_sd = float(np.sqrt(evidence.temp_cov[at, at]))
    pressure_sd = pressure * float(np.sqrt(evidence.pressure_cov[at, at]))
    return Ellipse(
        temp_k=temp,
        pressure_pa=pressure,
        temp_sd_k=temp_sd,
        pressure_sd_pa=pressure_sd,
        outline_temp_k=tuple((temp + _RADIUS_95 * temp_sd * np.cos(_OUTLINE)).tolist()),
        outline_pressure_pa=tuple((pressure + _RADIUS_95 * pressure_sd * np.sin(_OUTLINE)).tolist()),
    )
