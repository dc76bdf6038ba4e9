"""The posterior by brute force: fine grids on flashed curves, the full covariance of every single hypothesis.

Shares nothing with the engine but the priors: no table of the project, no whitening, no common slope.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from service.verdict import quadrature_grids
from service.verdict.model import Pair
from service.verdict.priors import Priors
from service.verdict.single_phase import VAPOUR_MISFIT
from tests.benchmarks.flashes import HOME_INDEX_WEIGHTS, LOSSES, SHARES, TEMPS_K, Flashed, temp_weights
from tests.benchmarks.truth_curves import GAS_CONSTANT, along, closed, compressibility, hardly_moved, held

STATES = ("none", "air", "shifted", "mixed", "vapour-only")
BOILED_DRY = "boiled dry"
"""Filled as the clean ones are and without liquid at the reading: told as vapour-only."""
OILY, OILY_AIR, SEVERAL = "oily", "oily-air", "several"
"""Dissolved oil under vapor and under air: told as none and air. Three refrigerants: told as mixed."""
FAINT = "faintly shifted"
"""Part of the charge lost as vapor, which hardly moves the blend: told as none."""
PRIOR_OF = {
    "none": "none",
    "air": "air",
    "shifted": "shifted",
    "mixed": "mixed",
    FAINT: "shifted",
    OILY: OILY,
    OILY_AIR: OILY_AIR,
    SEVERAL: SEVERAL,
    "vapour-only": "vapour-only",
    BOILED_DRY: "none",
}
DRAWN = tuple(PRIOR_OF)
TOLD = np.array([0, 1, 2, 3, 0, 0, 1, 3, 4, 4])
"""Place among `STATES` of each of `DRAWN`."""
SOLUBILITY = 0.6
SEVERAL_WIDTH = 0.02
"""Width given to each of the flashed mixtures of three [-]."""


@dataclass(slots=True)
class Judged:
    """A posterior reduced to what is scored: identity by name, joint probability of each state."""

    identity: dict[str, float]
    states: dict[str, float]


@dataclass(slots=True)
class _Rows:
    """Hypotheses of one designation and state: ln P at the flashed temperatures, ln prior, variance.

    `dry_k` is where the last liquid boils away, `wet` ln P below it of those whose `curves` are of vapor.
    """

    curves: np.ndarray
    log_mass: np.ndarray
    variance: np.ndarray
    dry_k: np.ndarray
    wet: np.ndarray | None = None


def _fill_nodes() -> tuple[np.ndarray, np.ndarray]:
    low, high = quadrature_grids.FILL_RANGE
    edges = np.concatenate(
        [np.linspace(low, 0.1, 17), np.linspace(0.1, high, 29)[1:], [quadrature_grids.OVERFILLED]]
    )
    mass = (1 - quadrature_grids.OVERFILLED_SHARE) * np.diff(edges) / (high - low)
    mass[-1] = quadrature_grids.OVERFILLED_SHARE
    return (edges[1:] + edges[:-1]) / 2, mass


def _share_nodes() -> tuple[np.ndarray, np.ndarray]:
    edges = np.concatenate(
        [np.geomspace(quadrature_grids.SHARE_RANGE[0], 0.06, 45), np.arange(0.064, 0.5001, 0.004)]
    )
    mass = np.diff(np.log(edges))
    return np.sqrt(edges[1:] * edges[:-1]), mass / mass.sum()


def _oil_nodes(count: int) -> tuple[np.ndarray, np.ndarray]:
    """ln of what dissolved oil leaves of the pressure, and mass of each."""
    edges = quadrature_grids.MOST_OIL * np.linspace(0.0, 1.0, count + 1) ** 1.5
    survival = np.exp(-edges / quadrature_grids.MEAN_OIL)
    mass = survival[:-1] - survival[1:]
    return np.log1p(-(edges[1:] + edges[:-1]) / 2), mass / mass.sum()


def _gap_variance(curves: np.ndarray, axis: int) -> np.ndarray:
    """Variance of a cell of the fine grid; its curve is the middle one."""
    middle = curves[..., TEMPS_K.size // 2]
    return np.gradient(middle, axis=axis) ** 2 / 12


def _with_oil(alone: np.ndarray, fill_mass: np.ndarray, dry_k: np.ndarray, own: float) -> _Rows:
    """Curves [fills, m] of clean cylinders, each lowered by every amount of oil."""
    lowered, oil_mass = _oil_nodes(14)
    oily = alone[:, None] + lowered[:, None]
    variance = own + _gap_variance(oily, 0) + _gap_variance(oily, 1)
    log_mass = np.log(fill_mass)[:, None] + np.log(oil_mass)
    dry = np.repeat(dry_k, oil_mass.size)
    return _Rows(oily.reshape(-1, TEMPS_K.size), log_mass.ravel(), variance.ravel(), dry)


class ExactPosterior:
    """
    All hypotheses of the drawn designations.

    Parameters
    ----------
    curves
        Flashed curves by designation.
    contaminants
        Second axis of their mixtures.
    uncertainty, mixing
        Relative standard uncertainty by designation, and of each pair's mixing.
    """

    def __init__(
        self,
        curves: dict[str, Flashed],
        contaminants: tuple[str, ...],
        uncertainty: dict[str, float],
        mixing: dict[str, np.ndarray],
    ) -> None:
        self.names = tuple(curves)
        self.contaminants = contaminants
        self._tables, self._mass, self._variance = [], [], []
        self._owner, self._state, self._partner, self._dry = [], [], [], []
        wet: list[np.ndarray] = []
        for position, (name, flashed) in enumerate(curves.items()):
            for state, rows, partner in self._rows(name, flashed, uncertainty, mixing, curves):
                keep = np.isfinite(rows.curves).all(axis=1)
                self._tables.append(rows.curves[keep])
                self._mass.append(rows.log_mass[keep])
                self._variance.append(rows.variance[keep])
                count = int(keep.sum())
                self._dry.append(rows.dry_k[keep])
                wet += [] if rows.wet is None else [rows.wet[keep]]
                self._owner.append(np.full(count, position, dtype=np.int32))
                self._state.append(np.full(count, DRAWN.index(state), dtype=np.int32))
                self._partner.append(np.full(count, partner, dtype=np.int32))
        self.table = np.concatenate(self._tables)
        self.log_mass = np.concatenate(self._mass)
        self.variance = np.concatenate(self._variance)
        self.owner = np.concatenate(self._owner)
        self.state = np.concatenate(self._state)
        self.partner = np.concatenate(self._partner)
        self._wet = np.concatenate(wet)
        self._reference = np.median(self.table, axis=0)
        self._columns = np.asfortranarray((self.table - self._reference).astype(np.float32))
        self._index()

    def _index(self) -> None:
        """Where states and designations begin."""
        self._variance32 = self.variance.astype(np.float32)
        self._dry_k = np.concatenate(self._dry)
        self._vapour_rows = np.flatnonzero(self.state >= DRAWN.index("vapour-only"))
        change = (np.diff(self.owner) != 0) | (np.diff(self.state) != 0)
        self._group_starts = np.concatenate([[0], np.flatnonzero(change) + 1])
        self._group_owner = self.owner[self._group_starts]
        self._group_state = self.state[self._group_starts]

    def _rows(self, name, flashed, uncertainty, mixing, curves):
        own = uncertainty[name] ** 2
        fills, fill_mass = _fill_nodes()
        alone, dry_k = closed(flashed, fills)
        variance = own + _gap_variance(alone, 0)
        yield "none", _Rows(alone, np.log(fill_mass), variance, dry_k), -1
        yield "air", self._air(flashed, own), -1
        yield OILY, _with_oil(alone, fill_mass, dry_k, own), -1
        yield OILY_AIR, self._air_and_oil(flashed, own), -1
        some = flashed.several[np.isfinite(flashed.several).all(axis=1)]
        if len(some):
            mass, spread = np.full(len(some), -np.log(len(some))), np.full(len(some), own + SEVERAL_WIDTH**2)
            yield SEVERAL, _Rows(some, mass, spread, np.full(len(some), np.inf)), -1
        if np.isfinite(flashed.loss).all():
            low, high = quadrature_grids.LOSS_RANGE
            losses = np.linspace(low, high, 81)
            losses = (losses[1:] + losses[:-1]) / 2
            shifted = along(LOSSES, flashed.loss, losses)
            mass, variance = np.full(80, -np.log(80)), own + _gap_variance(shifted, 0)
            faint = hardly_moved(flashed, shifted)
            for state, some in ((FAINT, faint), ("shifted", ~faint)):
                rows = _Rows(shifted[some], mass[some], variance[some], np.full(int(some.sum()), np.inf))
                yield state, rows, -1
        shares, share_mass = _share_nodes()
        for s, partner in enumerate(self.contaminants):
            mixture = flashed.mixed[s]
            if partner == name or not np.isfinite(mixture).all():
                continue
            fine = along(np.log(SHARES), mixture, np.log(shares))
            other = (shares * uncertainty[partner]) ** 2
            pair = (4 * shares * (1 - shares) * mixing[name][s]) ** 2
            variance = (1 - shares) ** 2 * own + other + pair + _gap_variance(fine, 0)
            yield "mixed", _Rows(fine, np.log(share_mass), variance, np.full(shares.size, np.inf)), s
        yield "vapour-only", self._vapour(flashed), -1
        yield BOILED_DRY, self._boiled_dry(flashed), -1

    def _air(self, flashed: Flashed, own: float) -> _Rows:
        edges = np.concatenate([np.arange(0, 60e3, 1e3), np.arange(60e3, 400e3, 4e3)])
        fill_edges = np.array([0.0, 0.02, 0.05, 0.1, 0.17, 0.27, 0.38, 0.52, 0.68, 0.85])
        return self._under_air(flashed, own, edges, fill_edges, 0.0)

    def _air_and_oil(self, flashed: Flashed, own: float) -> _Rows:
        edges = np.concatenate([np.arange(0, 60e3, 3e3), np.arange(60e3, 400e3, 10e3)])
        fill_edges = np.array([0.0, 0.05, 0.2, 0.5, 0.85])
        lowered, oil_mass = _oil_nodes(5)
        width = np.gradient(lowered) ** 2 / 12
        parts = [self._under_air(flashed, own, edges, fill_edges, float(low)) for low in lowered]
        return _Rows(
            np.concatenate([part.curves for part in parts]),
            np.concatenate([p.log_mass + np.log(m) for p, m in zip(parts, oil_mass, strict=True)]),
            np.concatenate([part.variance + w for part, w in zip(parts, width, strict=True)]),
            np.concatenate([part.dry_k for part in parts]),
        )

    def _under_air(
        self, flashed: Flashed, own: float, edges: np.ndarray, fill_edges: np.ndarray, lowered: float
    ) -> _Rows:
        pressures = (edges[1:] + edges[:-1]) / 2
        survival = np.exp(-edges / quadrature_grids.MEAN_AIR_PA)
        mass = survival[:-1] - survival[1:]
        fills, weights = (fill_edges[1:] + fill_edges[:-1]) / 2, np.diff(fill_edges) / fill_edges[-1]
        under, dry_k = closed(flashed, fills)
        under = under + lowered
        home = HOME_INDEX_WEIGHTS @ np.log(flashed.liquid)
        liquid = np.minimum(fills[:, None] * np.exp(home - np.log(flashed.liquid)), 0.98)
        room = 1 - liquid + SOLUBILITY * liquid
        growth = TEMPS_K / 298.15 * (1 - fills + SOLUBILITY * fills)[:, None] / room
        curves = under[None] + np.log1p(pressures[:, None, None] * (growth * np.exp(-under))[None])
        log_mass = np.log(mass)[:, None] + np.log(weights)
        variance = own + _gap_variance(curves, 0)
        dry = np.tile(dry_k, mass.size)
        return _Rows(curves.reshape(-1, TEMPS_K.size), log_mass.ravel(), variance.ravel(), dry)

    def _vapour(self, flashed: Flashed) -> _Rows:
        coarse = quadrature_grids.vapour_grid()
        edges = np.concatenate([np.linspace(a, b, 9)[:-1] for a, b in pairwise(coarse.edges)] + [[1.0]])
        shares = np.sqrt(edges[1:] * edges[:-1])
        factor = np.exp(HOME_INDEX_WEIGHTS @ np.log(compressibility(flashed)))
        root = np.sqrt(np.maximum(1 - 4 * (1 - factor) * factor * shares, 0))
        return _dry_rows(flashed, 2 * factor * shares / (1 + root), np.repeat(coarse.mass / 8, 8))

    def _boiled_dry(self, flashed: Flashed) -> _Rows:
        edges = np.linspace(quadrature_grids.BOILED_DRY[0], quadrature_grids.BOILED_DRY[-1], 45)
        ratio = np.exp(HOME_INDEX_WEIGHTS @ np.log(flashed.liquid / flashed.vapour))
        mass = (
            (1 - quadrature_grids.OVERFILLED_SHARE)
            * np.diff(edges)
            / (ratio - 1)
            / quadrature_grids.FILL_RANGE[1]
        )
        return _dry_rows(flashed, (edges[1:] + edges[:-1]) / 2, mass)

    def log_likelihood(self, pairs: Sequence[Pair]) -> np.ndarray:
        """Of every hypothesis, full covariance of one or two pairs [H]."""
        temps = np.array([p.temp_k for p in pairs])
        pressures = np.array([p.pressure_pa for p in pairs])
        first, step = pairs[0], 0.05
        weights = [
            temp_weights(temps),
            (temp_weights(temps + step) - temp_weights(temps - step)) / (2 * step),
        ]
        product = self._columns @ np.concatenate(weights, axis=1).astype(np.float32)
        # The reference taken off the table comes back here: float32 then keeps 1e-7 of ln P.
        back = self._reference @ np.concatenate(weights, axis=1)
        residual = [np.float32(np.log(pressures[i]) - back[i]) - product[:, i] for i in range(temps.size)]
        vapour = self._vapour_rows
        wet = self._wet @ temp_weights(temps)
        for i in range(temps.size):
            # A vapor that was dry when warm condenses when cold.
            condensed = temps[i] < self._dry_k[vapour]
            residual[i][vapour] = np.where(condensed, np.log(pressures[i]) - wet[:, i], residual[i][vapour])
        slope = [product[:, temps.size + i] + np.float32(back[temps.size + i]) for i in range(temps.size)]
        zero = first.pressure_bias_pa / pressures
        noise = np.array([p.pressure_noise_pa for p in pairs]) / pressures
        misfit = np.float32(VAPOUR_MISFIT**2) * (self.state >= DRAWN.index("vapour-only"))
        shared = np.float32(first.gain_bias**2) + self._variance32
        own = np.float32(first.temp_bias_k**2 + first.temp_noise_k**2)
        spread = [
            shared + misfit + np.float32(zero[i] ** 2 + noise[i] ** 2) + slope[i] ** 2 * own
            for i in range(temps.size)
        ]
        if len(pairs) == 1:
            value = -0.5 * (residual[0] ** 2 / spread[0] + np.log(np.float32(2 * np.pi) * spread[0]))
        else:
            both = np.float32(zero[0] * zero[1])
            c = shared + both + slope[0] * slope[1] * np.float32(first.temp_bias_k**2)
            determinant = spread[0] * spread[1] - c * c
            x, y = residual
            distance = (spread[1] * x * x - 2 * c * x * y + spread[0] * y * y) / determinant
            value = -0.5 * (distance + np.log(np.float32(4 * np.pi**2) * determinant))
        value[self._gone(float(temps.max()))] = -np.inf
        return value

    def _gone(self, hottest_k: float) -> np.ndarray:
        """Hypotheses of liquid that has boiled away, and of boiled dry where liquid is left [H]."""
        dry = self._dry_k <= hottest_k
        with_liquid = self.state < DRAWN.index("vapour-only")
        return dry & with_liquid | ~dry & (self.state == DRAWN.index(BOILED_DRY))

    def log_prior(self, priors: Priors, where: np.ndarray) -> np.ndarray:
        """ln prior of every hypothesis [H]; `where` [names] are the designations' places in the priors."""
        with np.errstate(divide="ignore"):
            head = np.stack(
                [np.log(priors.designation[where] * _chance(priors, drawn)[where]) for drawn in DRAWN]
            )
            partner = np.log(priors.partner[where])
        log_prior = head[self.state, self.owner] + self.log_mass
        mixed = self.partner >= 0
        log_prior[mixed] += partner[self.owner[mixed], self.partner[mixed]]
        return log_prior.astype(np.float32)

    def relabelled(self, log_prior: np.ndarray, before: np.ndarray, after: np.ndarray) -> np.ndarray:
        """The same prior with other designation probabilities [names]."""
        return log_prior + np.log(after / before).astype(np.float32)[self.owner]

    def judge(self, log_likelihood: np.ndarray, log_prior: np.ndarray, hottest_k: float) -> Judged:
        """Posterior, reduced to what is scored; a heel with liquid at every reading is told as clean."""
        weight = log_likelihood + log_prior
        weight -= weight.max()
        np.exp(weight, out=weight)
        by_group = np.add.reduceat(weight, self._group_starts, dtype=np.float64)
        total = by_group.sum()
        by_group /= total
        identity = np.bincount(self._group_owner, weights=by_group, minlength=len(self.names))
        states = np.bincount(TOLD[self._group_state], weights=by_group, minlength=len(STATES))
        heels = weight[self._vapour_rows][hottest_k < self._dry_k[self._vapour_rows]].sum() / total
        states[STATES.index("none")] += heels
        states[STATES.index("vapour-only")] -= heels
        return Judged(
            dict(zip(self.names, identity.tolist(), strict=True)),
            dict(zip(STATES, states.tolist(), strict=True)),
        )


def _chance(priors: Priors, drawn: str) -> np.ndarray:
    """Probability [n] of what is drawn, given the designation: one boils dry with oil or without."""
    return priors.state("none") if drawn == BOILED_DRY else priors.rows(PRIOR_OF[drawn])


def _dry_rows(flashed: Flashed, ratio: np.ndarray, mass: np.ndarray) -> _Rows:
    """Vapor at densities over the saturated one's at 25 °C: the first virial correction, true at saturation."""
    density = ratio[:, None] * np.exp(HOME_INDEX_WEIGHTS @ np.log(flashed.vapour))
    factor = 1 - (1 - compressibility(flashed)) * density / flashed.vapour
    ideal = density * GAS_CONSTANT * TEMPS_K / flashed.molar_mass
    curves = np.log(ideal * np.maximum(factor, 0.2))
    wet, dry_k = held(flashed, 1 / density[:, 0])
    return _Rows(curves, np.log(mass), _gap_variance(curves, 0), dry_k, wet)
