"""Fit the curves of one designation to samples of the equation of state."""

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from service.refrigerants.composition import Composition
from service.refrigerants.curves import Floats, chebyshev, critical_position, reciprocal_position
from service.refrigerants.equation_of_state import EquationOfState, temp_limits_k
from service.refrigerants.two_phase import NoConvergence, TwoPhase

TEMP_MIN_K = 233.15
"""Lowest temperature of a curve, -40 °C: no cylinder of this work is colder (a choice) [K]."""
TEMP_MAX_K = 333.15
"""Highest temperature of a curve, 60 °C: above the 55 °C of the filling rules (a choice) [K]."""
DEGREE = 14
"""Degree of the Chebyshev series of every curve (a choice; the residuals are written beside the tables)."""
QUANTITIES = ("bubble_pressure", "dew_pressure", "liquid_density", "vapour_density")
"""Names of the four curves of a designation, in the order of their tables."""
_SAMPLES = 41
"""Chebyshev points that a curve is fitted to (a choice)."""
_UNSEEN = 53
"""Evenly spaced points that the fit does not see and is judged by (a choice)."""
_PROBE_STEP_K = 2.5
"""Spacing of the points that find where a blend has both bubble and dew point (a choice) [K]."""
_NEAR_CRITICAL = 0.99
"""A curve ends at this share of the critical temperature: nearer, the equation's roots are not to be trusted (a
choice) [-]."""
_SUSPECT_LOG = 5e-4
"""A sample that lies further from the fit of ln P or ln density is a false root and dropped (a choice) [-]."""


@dataclass(frozen=True, slots=True)
class SaturationFit:
    """Series of one designation with the evidence for them.

    ``series`` and ``residuals`` go by the names of ``QUANTITIES``: ndarray[d] as in ``CurveTables``,
    and the largest relative difference from samples that the fit did not see, [-]. ``holes`` are
    temperatures [K] at which the equation of state gave nothing, or nothing to be trusted.
    """

    temp_min_k: float
    temp_max_k: float
    critical_k: float
    series: dict[str, Floats]
    residuals: dict[str, float]
    holes: dict[str, list[float]]
    methods: dict[str, int]


Branch = dict[float, TwoPhase]
Position = Callable[[Floats], Floats]


@dataclass(frozen=True, slots=True)
class Samples:
    """Bubble and dew points by temperature [K], and the temperatures without one."""

    bubble: Branch
    dew: Branch
    holes: dict[str, list[float]]
    molar_mass_kg_mol: float

    def logs(self, quantity: str) -> tuple[Floats, Floats]:
        """Temperatures, ndarray[k] [K], and logarithms of a quantity, ndarray[k] of ln [Pa] or ln [kg/m^3]."""
        branch = self.bubble if quantity in ("bubble_pressure", "liquid_density") else self.dew
        temps = np.array(sorted(branch))
        states = [branch[temp] for temp in temps]
        if quantity.endswith("pressure"):
            return temps, np.log([state.pressure_pa for state in states])
        attribute = f"{quantity}_mol_m3"
        return temps, np.log([getattr(state, attribute) * self.molar_mass_kg_mol for state in states])


def sample(equation: EquationOfState, temps_k: Sequence[float]) -> Samples:
    """Solve bubble and dew points at temperatures [K], noting where there is none to be trusted."""
    branches: dict[str, Branch] = {"bubble": {}, "dew": {}}
    holes: dict[str, list[float]] = {"bubble": [], "dew": []}
    for quality, (name, found) in enumerate(branches.items()):
        for temp in sorted(temps_k):
            try:
                found[float(temp)] = equation.saturation(float(temp), float(quality))
            except NoConvergence:
                holes[name].append(float(temp))
    bubble, dew = branches["bubble"], branches["dew"]
    for temp in set(bubble) & set(dew):
        if bubble[temp].pressure_pa < dew[temp].pressure_pa * (1 - 1e-5):
            for name, found in branches.items():
                del found[temp]
                holes[name].append(temp)
    return Samples(bubble, dew, holes, equation.molar_mass_kg_mol)


def temp_range_k(composition: Composition, equation: EquationOfState) -> tuple[float, float]:
    """Find the temperatures that a designation's curves can span, [K]."""
    if composition.is_pure:
        low, critical = temp_limits_k(composition.components[0])
        return max(TEMP_MIN_K, low + 0.01), min(TEMP_MAX_K, _NEAR_CRITICAL * critical)
    probes = sample(equation, list(np.arange(TEMP_MIN_K, TEMP_MAX_K + 0.1, _PROBE_STEP_K)))
    both = np.array(sorted(set(probes.bubble) & set(probes.dew)))
    if both.max() > TEMP_MAX_K - 1e-6:
        return float(both.min()), TEMP_MAX_K
    critical = equation.critical_temp_k()
    # A traced envelope that ends below a solved point went astray; the last solved points do instead.
    end = critical if critical > both.max() else both.max()
    return float(both.min()), float(min(end * _NEAR_CRITICAL, both.max()))


def chebyshev_temps_k(low_k: float, high_k: float, count: int) -> Floats:
    """Temperatures at the Chebyshev points of 1/T, ends included, rising, ndarray[count] [K]."""
    x = -np.cos(np.pi * np.arange(count) / (count - 1))
    temps: Floats = 2 / (x * (1 / high_k - 1 / low_k) + 1 / low_k + 1 / high_k)
    return np.clip(temps, low_k, high_k)


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
    samples = sample(equation, list(chebyshev_temps_k(low, high, _SAMPLES)))
    unseen = sample(equation, list(np.linspace(low, high, _UNSEEN)))
    critical = _best_critical(samples, low, high)
    series, residuals = {}, {}
    holes = {name: {*samples.holes[name], *unseen.holes[name]} for name in samples.holes}
    for quantity in QUANTITIES:
        position = _position(quantity, low, high, critical)
        series[quantity], dropped = _robust_series(*samples.logs(quantity), position)
        holes["bubble" if quantity in ("bubble_pressure", "liquid_density") else "dew"].update(dropped)
        temps, value = unseen.logs(quantity)
        residuals[quantity] = float(
            np.abs(np.expm1(_evaluate(series[quantity], position(temps)) - value)).max()
        )
    rounded = {name: sorted(round(temp, 3) for temp in temps) for name, temps in holes.items()}
    return SaturationFit(low, high, critical, series, residuals, rounded, _count_methods(samples, unseen))


def _position(quantity: str, low_k: float, high_k: float, critical_k: float) -> Position:
    low, high, critical = np.array(low_k), np.array(high_k), np.array(critical_k)
    if quantity.endswith("pressure"):
        return lambda temp_k: reciprocal_position(temp_k, low, high)
    return lambda temp_k: critical_position(temp_k, low, high, critical)


def _evaluate(series: Floats, x: Floats) -> Floats:
    value: Floats = chebyshev(series[None], x[None])[0]
    return value


def _series(x: Floats, value: Floats) -> Floats:
    degree = min(DEGREE, x.size - 3)
    return np.pad(np.polynomial.chebyshev.chebfit(x, value, degree), (0, DEGREE - degree))


def _robust_series(temps_k: Floats, value: Floats, position: Position) -> tuple[Floats, list[float]]:
    """Fit, dropping false roots one by one: a stray solution stands out of a smooth curve."""
    keep = np.ones(temps_k.size, dtype=bool)
    while True:
        fitted = _series(position(temps_k[keep]), value[keep])
        off = np.abs(_evaluate(fitted, position(temps_k)) - value) * keep
        if off.max() < _SUSPECT_LOG or keep.sum() < DEGREE + 4:
            return fitted, temps_k[~keep].tolist()
        keep[off.argmax()] = False


def _best_critical(samples: Samples, low: float, high: float) -> float:
    """Choose the T* of the density variable that leaves the smallest residual, [K]."""

    def worst(critical: float) -> float:
        misses = []
        for quantity in ("liquid_density", "vapour_density"):
            temps, value = samples.logs(quantity)
            x = _position(quantity, low, high, critical)(temps)
            misses.append(float(np.abs(_evaluate(_series(x, value), x) - value).max()))
        return max(misses)

    return min((float(high * factor) for factor in np.geomspace(1.002, 1.6, 60)), key=worst)


def _count_methods(*samples: Samples) -> dict[str, int]:
    solutions = (state for one in samples for branch in (one.bubble, one.dew) for state in branch.values())
    return dict(Counter(state.method for state in solutions))
