"""Fit the curves of one designation to samples of the equation of state."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.refrigerants.composition import Composition
from service.refrigerants.curves import Floats, chebyshev, critical_position, reciprocal_position
from service.refrigerants.equation_of_state import (
    EquationOfState,
    NoConvergence,
    TwoPhase,
    temp_limits_k,
)

TEMP_MIN_K = 233.15
TEMP_MAX_K = 333.15
DEGREE = 14
_SAMPLES = 41
_NEAR_CRITICAL = 0.99
_SUSPECT_LOG = 5e-4


@dataclass(frozen=True, slots=True)
class SaturationFit:
    """Series of one designation with the evidence for them.

    The four series are ndarray[d] as in ``CurveTables``. ``residuals`` are the largest relative
    differences from samples that the fit did not see, [-]; ``holes`` are temperatures [K] at which
    the equation of state gave nothing or nothing to be trusted.
    """

    temp_min_k: float
    temp_max_k: float
    critical_k: float
    log_bubble_pressure: Floats
    log_dew_pressure: Floats
    log_liquid_density: Floats
    log_vapour_density: Floats
    residuals: dict[str, float]
    holes: dict[str, list[float]]
    methods: dict[str, int]


@dataclass(frozen=True, slots=True)
class _Samples:
    bubble: dict[float, TwoPhase]
    dew: dict[float, TwoPhase]
    molar_mass_kg_mol: float

    def logs(self) -> dict[str, tuple[Floats, Floats]]:
        """Temperatures [K] and logarithms of pressure [Pa] and density [kg/m^3]."""
        m = self.molar_mass_kg_mol
        return {
            "bubble_pressure": _log(self.bubble, lambda s: s.pressure_pa),
            "dew_pressure": _log(self.dew, lambda s: s.pressure_pa),
            "liquid_density": _log(self.bubble, lambda s: s.liquid_density_mol_m3 * m),
            "vapour_density": _log(self.dew, lambda s: s.vapour_density_mol_m3 * m),
        }


def _log(branch, value) -> tuple[Floats, Floats]:  # type: ignore[no-untyped-def]
    temps = np.array(sorted(branch))
    return temps, np.log([value(branch[temp]) for temp in temps])


def sample(equation: EquationOfState, temps_k: Sequence[float]) -> tuple[_Samples, dict[str, list[float]]]:
    """Solve bubble and dew points from cold to warm, each the next one's guess.

    Parameters
    ----------
    equation : EquationOfState
        Of the designation.
    temps_k : Sequence[float]
        Temperatures, [K].

    Returns
    -------
    tuple[_Samples, dict[str, list[float]]]
        The solutions, and by branch the temperatures without one, [K].
    """
    branches: dict[float, dict[float, TwoPhase]] = {0.0: {}, 1.0: {}}
    holes: dict[float, list[float]] = {0.0: [], 1.0: []}
    for quality, found in branches.items():
        for temp in sorted(temps_k):
            try:
                found[temp] = equation.saturation(temp, quality)
            except NoConvergence:
                holes[quality].append(round(float(temp), 3))
    _drop_inverted(branches[0.0], branches[1.0], holes)
    return (
        _Samples(branches[0.0], branches[1.0], equation.molar_mass_kg_mol),
        {"bubble": holes[0.0], "dew": holes[1.0]},
    )


def _drop_inverted(
    bubble: dict[float, TwoPhase], dew: dict[float, TwoPhase], holes: dict[float, list[float]]
) -> None:
    for temp in set(bubble) & set(dew):
        if bubble[temp].pressure_pa < dew[temp].pressure_pa * (1 - 1e-5):
            del bubble[temp], dew[temp]
            holes[0.0].append(round(float(temp), 3))
            holes[1.0].append(round(float(temp), 3))


def temp_range_k(composition: Composition, equation: EquationOfState) -> tuple[float, float]:
    """Find the temperatures that a designation's curves can span, [K]."""
    if composition.is_pure:
        low, critical = temp_limits_k(composition.components[0])
        return max(TEMP_MIN_K, low + 0.01), min(TEMP_MAX_K, _NEAR_CRITICAL * critical)
    probes = np.arange(TEMP_MIN_K, TEMP_MAX_K + 0.1, 2.5)
    samples, _ = sample(equation, list(probes))
    both = np.array(sorted(set(samples.bubble) & set(samples.dew)))
    ends = [equation.critical_temp_k() * _NEAR_CRITICAL, TEMP_MAX_K, both.max()]
    return float(both.min()), float(min(ends))


def chebyshev_temps_k(low_k: float, high_k: float, count: int) -> Floats:
    """Temperatures at the Chebyshev points of 1/T, ends included, rising, [K]."""
    x = -np.cos(np.pi * np.arange(count) / (count - 1))
    return 2 / (x * (1 / high_k - 1 / low_k) + 1 / low_k + 1 / high_k)


def fit_saturation(composition: Composition) -> SaturationFit:
    """Sample and fit one designation.

    Parameters
    ----------
    composition : Composition
        What it is made of.

    Returns
    -------
    SaturationFit
        Series, residuals at points between the samples, holes.
    """
    equation = EquationOfState(composition)
    low, high = temp_range_k(composition, equation)
    samples, holes = sample(equation, list(chebyshev_temps_k(low, high, _SAMPLES)))
    between, more_holes = sample(equation, list(np.linspace(low, high, 53)))
    logs = samples.logs()
    pressure = {
        name: _robust_series(*logs[name], lambda t: reciprocal_position(t, np.array(low), np.array(high)))
        for name in ("bubble_pressure", "dew_pressure")
    }
    critical = _best_critical(logs, low, high)
    density = {
        name: _robust_series(
            *logs[name], lambda t: critical_position(t, np.array(low), np.array(high), np.array(critical))
        )
        for name in ("liquid_density", "vapour_density")
    }
    series = {name: fitted for name, (fitted, _) in {**pressure, **density}.items()}
    for name, branch in (("bubble_pressure", "bubble"), ("dew_pressure", "dew")):
        holes[branch] += [round(float(t), 3) for t in pressure[name][1]]
    return SaturationFit(
        low,
        high,
        critical,
        *(series[name] for name in ("bubble_pressure", "dew_pressure", "liquid_density", "vapour_density")),
        residuals=_residuals(series, between.logs(), low, high, critical),
        holes={branch: sorted(set(holes[branch] + more_holes[branch])) for branch in holes},
        methods=_count_methods(samples, between),
    )


def _count_methods(*samples: _Samples) -> dict[str, int]:
    methods: dict[str, int] = {}
    for solution in (s for one in samples for branch in (one.bubble, one.dew) for s in branch.values()):
        methods[solution.method] = methods.get(solution.method, 0) + 1
    return methods


def _series(x: Floats, value: Floats) -> Floats:
    degree = min(DEGREE, x.size - 3)
    return np.pad(np.polynomial.chebyshev.chebfit(x, value, degree), (0, DEGREE - degree))


def _robust_series(temps_k: Floats, value: Floats, position) -> tuple[Floats, Floats]:  # type: ignore[no-untyped-def]
    """Fit, dropping false roots one by one: a stray solution stands out of a smooth curve."""
    keep = np.ones(temps_k.size, dtype=bool)
    while True:
        fitted = _series(position(temps_k[keep]), value[keep])
        off = np.abs(chebyshev(fitted[None], position(temps_k)[None])[0] - value) * keep
        if off.max() < _SUSPECT_LOG or keep.sum() < DEGREE + 4:
            return fitted, temps_k[~keep]
        keep[off.argmax()] = False


def _best_critical(logs: dict[str, tuple[Floats, Floats]], low: float, high: float) -> float:
    """Choose the T* of the density variable that leaves the smallest residual, [K]."""

    def worst(critical: float) -> float:
        worst_of = []
        for name in ("liquid_density", "vapour_density"):
            temps, value = logs[name]
            x = critical_position(temps, np.array(low), np.array(high), np.array(critical))
            worst_of.append(float(np.abs(chebyshev(_series(x, value)[None], x[None])[0] - value).max()))
        return max(worst_of)

    return min((float(high * factor) for factor in np.geomspace(1.002, 1.6, 60)), key=worst)


def _residuals(
    series: dict[str, Floats],
    logs: dict[str, tuple[Floats, Floats]],
    low: float,
    high: float,
    critical: float,
) -> dict[str, float]:
    ends: tuple[NDArray[np.float64], NDArray[np.float64]] = (np.array(low), np.array(high))
    residuals = {}
    for name, (temps, value) in logs.items():
        if name.endswith("density"):
            x = critical_position(temps, *ends, np.array(critical))
        else:
            x = reciprocal_position(temps, *ends)
        off = np.abs(np.expm1(chebyshev(series[name][None], x[None])[0] - value))
        residuals[name] = float(off.max())
    return residuals
