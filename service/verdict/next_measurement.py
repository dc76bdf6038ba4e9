"""Which one more measurement is expected to tell most, in bits about what the verdict leaves open.

The expected information of a reading is the mutual information between it and the class in question (the
designation while that is open, else the contamination), over the posterior that the pairs so far have left.
Biases of instruments that are used again stay what they are, and the residuals so far already tell of them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from service.verdict import chebyshev, information_gain
from service.verdict.evidence import cross_covariances, variances
from service.verdict.hypotheses import HypothesisSpace
from service.verdict.model import Alternative, CylinderFacts, NextMeasurement, Pair
from service.verdict.posterior import Posterior
from service.verdict.quadrature_grids import Grid
from service.verdict.settings import VerdictSettings

Floats = NDArray[np.float64]

REACHABLE_K = tuple(273.15 + c for c in (10, 20, 30, 38, 45))
"""By ice water, water bath or room; cylinders are never warmed above 52 °C (125 °F) [K]."""
LUKEWARM_K = 311.15
"""Room air and lukewarm water reach so far, 38 °C (100 °F) (common practice, no source) [K]."""
_LEAST_CHANGE_K = 3.0
_MOST_ROWS = 4000
_LEAST = 1e-6
_MOST_CLASSES = 24
_VAPOUR_POWER = 1.2


@dataclass(frozen=True, slots=True)
class _Leading:
    """The rows that matter: weights, class of each, coefficients, residuals at the pairs, typical slopes."""

    weight: Floats
    label: NDArray[np.intp]
    coefficients: Floats
    residual: Floats
    slope_coefficients: Floats
    variance: float


@dataclass(frozen=True, slots=True)
class _Option:
    code: str
    action: str
    temp_k: float | None
    pair: Pair


_WEIGH_EMPTY = NextMeasurement(
    "Weigh the cylinder and compare with its tare: without liquid, pressure and temperature cannot tell what "
    "it is.",
    "weigh",
    None,
    0.0,
)


def choose(
    posterior: Posterior,
    space: HypothesisSpace,
    pairs: Sequence[Pair],
    facts: CylinderFacts,
    settings: VerdictSettings,
    *,
    identified: bool,
) -> NextMeasurement:
    """
    The measurement with the largest expected information.

    Parameters
    ----------
    posterior : Posterior
        Of the pairs.
    space : HypothesisSpace
        Its rows.
    pairs : sequence of Pair
        The condensed pairs, in the posterior's order.
    facts : CylinderFacts
        Weighing is offered where the capacity is known and the mass is not.
    settings : VerdictSettings
        What better instruments can do, and what is worth a measurement.
    identified : bool
        The designation is settled, so contamination is the question.

    Returns
    -------
    NextMeasurement
        `none` as code where nothing is expected to tell anything.
    """
    if float(posterior.by_state["vapour-only"].sum()) >= 0.5:
        return _WEIGH_EMPTY
    leading = _leading(posterior, space, identified)
    options = _options(posterior, pairs, settings)
    gains = list(zip(options, _gains(leading, posterior, pairs, options), strict=True))
    if facts.water_volume_m3 is not None and facts.net_mass_kg is None:
        weigh = _Option("weigh", "Weigh the cylinder and enter the net mass.", None, pairs[0])
        gains.append((weigh, _weighing(posterior, space, identified)))
    gains.sort(key=lambda item: -item[1])
    best, bits = gains[0]
    following = tuple(_alternative(*gain) for gain in gains[:4])
    if bits < settings.worthwhile_bits:
        text = (
            "No single further reading of pressure and temperature is expected to tell much more; what is still "
            "open needs a sample and a laboratory, or an instrument that identifies refrigerant."
        )
        return NextMeasurement(text, "none", None, bits, following[:3])
    return NextMeasurement(best.action, best.code, best.temp_k, bits, following[1:])


def _alternative(option: _Option, bits: float) -> Alternative:
    return Alternative(option.code, option.action, option.temp_k, round(bits, 4))


def _options(posterior: Posterior, pairs: Sequence[Pair], settings: VerdictSettings) -> list[_Option]:
    last = pairs[int(np.abs(posterior.evidence.temp_k - 298.15).argmin())]
    nearly_full = float(posterior.by_state["liquid-full"].sum()) > 0.01
    options = [_Option("repeat", "Repeat the same measurement.", last.temp_k, last)]
    for temp in REACHABLE_K:
        near = min(abs(temp - p.temp_k) for p in pairs) < _LEAST_CHANGE_K
        if near or (nearly_full and temp > last.temp_k):
            continue
        options.append(_Option(*_bring_to(temp, last.temp_k), temp, replace(last, temp_k=temp)))
    finer = settings.better_thermometer_k
    thermometer = replace(
        last,
        temp_noise_k=min(finer, last.temp_noise_k),
        temp_bias_k=min(finer, last.temp_bias_k),
        temperature_device="\0better",
    )
    text = (
        f"Read again with a thermometer good to {finer:g} K ({1.8 * finer:.1f} °F), well strapped and "
        "insulated."
    )
    options.append(_Option("better-thermometer", text, last.temp_k, thermometer))
    zero = min(settings.zeroed_gauge_pa, last.pressure_bias_pa)
    gauge = replace(last, pressure_bias_pa=zero, pressure_device="\0zeroed")
    options.append(_Option("zero-gauge", "Zero the gauge in open air, then read again.", last.temp_k, gauge))
    return options


def _bring_to(temp: float, now: float) -> tuple[str, str]:
    celsius, fahrenheit = temp - 273.15, 1.8 * (temp - 273.15) + 32
    to = f"about {celsius:.0f} °C ({fahrenheit:.0f} °F)"
    if temp > max(now, LUKEWARM_K + 0.5):
        return (
            "warm",
            f"Warm the cylinder to {to} in a water bath with a thermometer in it, never above 50 °C (122 °F), let it "
            "settle, read again.",
        )
    if temp > now:
        return (
            "warm",
            f"Warm the cylinder to {to} with room air or lukewarm water, let it settle, read again.",
        )
    return "cool", f"Cool the cylinder to {to} with cool room air or ice water, let it settle, read again."


def _leading(posterior: Posterior, space: HypothesisSpace, identified: bool) -> _Leading:
    rows = posterior.rows
    index = np.flatnonzero(rows > _LEAST)
    if index.size > _MOST_ROWS:
        index = index[np.argpartition(rows[index], -_MOST_ROWS)[-_MOST_ROWS:]]
    weight = rows[index].astype(np.float64)
    coefficients = space.coefficients[:, index].T.astype(np.float64) + space.reference
    residual = posterior.evidence.log_pressure - coefficients @ chebyshev.values(posterior.evidence.temp_k)
    label = space.row_state[index] if identified else space.row_designation[index]
    total = max(float(weight.sum()), 1e-300)
    return _Leading(
        weight=weight,
        label=_few_classes(label.astype(np.intp), weight),
        coefficients=coefficients,
        residual=residual,
        slope_coefficients=weight @ coefficients / total,
        variance=float(weight @ space.variance[index]) / total,
    )


def _few_classes(label: NDArray[np.intp], weight: Floats) -> NDArray[np.intp]:
    """Classes numbered by weight from 1; 0 is vapour alone, the last one everything unlikely."""
    if label.size == 0:
        return label
    total = np.bincount(label, weights=weight)
    rank = np.empty(total.size, dtype=np.intp)
    rank[np.argsort(-total, kind="stable")] = np.arange(total.size)
    return np.minimum(rank + 1, _MOST_CLASSES)[label]


def _gains(
    leading: _Leading, posterior: Posterior, pairs: Sequence[Pair], options: Sequence[_Option]
) -> list[float]:
    """Expected information [bit] of one more pair, for each option."""
    if leading.weight.size == 0:
        return [0.0] * len(options)
    evidence = posterior.evidence
    temps = np.array([option.pair.temp_k for option in options])
    predicted = leading.coefficients @ chebyshev.values(temps)
    typical = np.exp(leading.weight @ predicted / leading.weight.sum())
    new_slopes = leading.slope_coefficients @ chebyshev.slopes(temps)
    slopes = leading.slope_coefficients @ chebyshev.slopes(evidence.temp_k)
    inverse = np.linalg.inv(evidence.covariance(slopes, leading.variance))
    vapour = float(posterior.by_state["vapour-only"].sum())
    alone = evidence.log_pressure[0] + _VAPOUR_POWER * np.log(temps / evidence.temp_k[0])
    others = [option.pair for option in options]
    pressure_cross, temp_cross = cross_covariances(pairs, others, typical)
    cross = pressure_cross + new_slopes[:, None] * slopes * temp_cross + leading.variance
    coupling = cross @ inverse
    own = variances(others, typical, new_slopes) + leading.variance
    spread = np.sqrt(np.maximum(own - (cross * coupling).sum(axis=1), 1e-12))
    mean = np.empty((len(options), leading.weight.size + 1))
    mean[:, :-1] = predicted.T + coupling @ leading.residual.T
    mean[:, -1] = alone
    return information_gain.of_readings(
        mean, np.append(leading.weight, vapour), np.append(leading.label, 0), spread
    )


def _weighing(posterior: Posterior, space: HypothesisSpace, identified: bool) -> float:
    """Expected information [bit] of the liquid fraction; states whose curve ignores it keep its prior."""
    fills = space.fill.nodes.size
    n = len(space.designations)
    tables = []
    for state, block in space.blocks.items():
        table = posterior.rows[block.rows].reshape(block.shape).astype(float)
        if state == "none":
            by_fill = table
        elif state == "air":
            by_fill = table.sum(axis=1) @ _regrid(space.air_fill, space.fill)
        else:
            by_fill = table.reshape(n, -1).sum(axis=1)[:, None] * space.fill.mass
        tables.append(np.pad(by_fill, ((0, 0), (0, 1))))
    stacked = np.stack(tables)
    classes = stacked.sum(axis=1) if identified else stacked.sum(axis=0)
    vapour = np.zeros((1, fills + 1))
    vapour[0, -1] = posterior.by_state["vapour-only"].sum()
    return information_gain.mutual(np.vstack([classes, vapour]))


def _regrid(coarse: Grid, fine: Grid) -> Floats:
    """Share [coarse, fine] of each coarse cell that falls into each fine cell, by prior mass."""
    inside = (fine.nodes[None, :] >= coarse.edges[:-1, None]) & (fine.nodes[None, :] < coarse.edges[1:, None])
    shares = inside * fine.mass
    return np.asarray(shares / np.maximum(shares.sum(axis=1, keepdims=True), 1e-300))
