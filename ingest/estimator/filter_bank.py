"""A bank of small Kalman filters, one for each lag that the clamp may have, weighed by likelihood.

This is the static multiple-model estimator: D. T. Magill, IEEE Trans. Automatic Control 10 (1965) 434; Bar-Shalom, Li
and Kirubarajan, Estimation with Applications to Tracking and Navigation (2001), chapter 11 (both from memory).

States of each: liquid temperature L [K], its drift d [K/s], the offset c = T - z(P) of a settled clamp [K], and two
residues of the clamp's lag, e1 (first lag) and e2 (its body, five times slower) [K]. The clamp shows L + e1 + e2,
the pressure thermometer shows L - c.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from ingest.estimator.filter_settings import FilterSettings

Floats = NDArray[np.float64]

LIQUID, DRIFT, OFFSET, FIRST, BODY, LAG = range(6)
"""Places of the states in a filter's vector; LAG is the logarithm of the first lag over its center."""
STATES = 6
"""States of one filter."""
NO_LAG_S = 1.0
"""Lag of the filters for a clamp that has none left: shorter than the time between readings (a choice) [s]."""
MOST_DOUBT_OF_LAG, KNOWN_LAG = 0.05, 0.15
"""A lag is worth remembering if the filters without one have less weight than the first, and it is known to the
second as a logarithm (a choice) [-]."""
REMEMBERED_LAG = 0.15
"""A remembered lag may have changed by so much with how the clamp sits, as a logarithm (a judgement), [-]."""
AIR_K, REST_FROM_AIR_K, MOVED_FROM_AIR_K = 0.6, 0.6, 8.0
"""How well the air is known, and how far from it a cylinder at rest and one that was moved may be (judgements),
[K]."""
AIR_SAYS = 20.0
"""The air may make a filter at most so many times as likely as another: heat may come from elsewhere (a choice),
[-]."""
MOST_OFF = 1.0
"""A filter's lag is at most so far from its centre, as a logarithm (a choice), [-]."""
PRUNED_BELOW, RESTART_WEIGHT = math.exp(-25.0), math.exp(-20.0)
"""A filter with less weight than the first starts over, with the second, from what the others know (a choice) [-]."""
NEGLIGIBLE = 1e-3
"""A filter with less weight than this is left out once the clamp has settled (a choice) [-]."""


class FilterBank:
    """Filters side by side: arrays with one row a hypothesis (k rows)."""

    __slots__ = ("body_s", "cov", "first_s", "kept", "log_weight", "settings", "state", "time_s", "weight")

    def __init__(
        self, settings: FilterSettings, time_s: float, temp_k: float, known_lag_s: float | None = None
    ):
        lags = [*settings.lags_s, NO_LAG_S]
        self.settings = settings
        self.kept: list[int] | None = None
        self.time_s = time_s
        self.first_s: Floats = np.array(lags * 2)
        self.body_s: Floats = self.first_s * settings.body_ratio
        k = len(self.first_s)
        self.state: Floats = np.zeros((k, STATES))
        self.state[:, LIQUID] = temp_k
        self.cov: Floats = np.zeros((k, STATES, STATES))
        self.log_weight: Floats = np.log(self._prior(lags, known_lag_s))
        self.weight: Floats = np.exp(self.log_weight)
        self.reopen(liquid=True, drift=True, offset=True)
        self.know_lag(known_lag_s)

    def _prior(self, lags: list[float], known_lag_s: float | None, at_rest: float | None = None) -> Floats:
        s = self.settings
        rest_weight = s.rest_weight if at_rest is None else at_rest
        share = np.ones(len(lags) - 1)
        if known_lag_s is not None:
            off = np.log(np.array(lags[:-1]) / known_lag_s) / 0.35
            share = np.exp(-0.5 * off * off) + 1e-3
        share *= (1.0 - s.no_lag_weight) / share.sum()
        one = np.append(share, s.no_lag_weight)
        return np.concatenate([rest_weight * one, (1.0 - rest_weight) * one])

    def reopen(
        self,
        *,
        liquid: bool = False,
        drift: bool = False,
        offset: bool = False,
        on_wall: bool = False,
    ) -> None:
        """Forget what a disturbance has made doubtful; a clamp `on_wall` is not as far off as one just put on."""
        s, cov = self.settings, self.cov
        fresh = self.first_s > NO_LAG_S
        first_k, body_k = (s.touched_k, s.touched_body_k) if on_wall else (s.first_k, s.body_k)
        self._reset(FIRST, np.where(fresh, first_k, s.settled_k))
        self._reset(BODY, np.where(fresh, math.hypot(body_k, s.body_share * first_k), 1e-3))
        # The body lags to the same side as the rest.
        cov[:, FIRST, BODY] = cov[:, BODY, FIRST] = np.where(fresh, s.body_share * first_k**2, 0.0)
        self._forget_lag(np.ones(len(fresh), dtype=bool))
        if drift:
            self._reset(DRIFT, np.where(self._at_rest, s.rest_drift, s.moving_drift))
        if liquid:
            cov[:, LIQUID, LIQUID] += 400.0
        if offset:
            cov[:, OFFSET, OFFSET] += 400.0

    def know_lag(self, known_lag_s: float | None) -> None:
        """Let every filter near a lag [s] that is remembered start from it."""
        if known_lag_s is None:
            return
        s = self.settings
        off = np.log(known_lag_s / self.first_s)
        near = (self.first_s > NO_LAG_S) & (np.abs(off) < 2.0 * s.lag_width)
        self.state[near, LAG] = off[near]
        self.cov[near, LAG, LAG] = REMEMBERED_LAG**2

    def prune(self) -> None:
        """Keep the filters that still say something: a settled clamp needs few, in memory and in time."""
        keep = np.flatnonzero(self.weight > NEGLIGIBLE)
        if self.kept is not None or len(keep) == len(self.weight):
            return
        self.kept = keep.tolist()
        for name in ("first_s", "body_s", "state", "cov", "log_weight", "weight"):
            setattr(self, name, getattr(self, name)[keep].copy())
        self._normalise()

    def widen(self) -> None:
        """Have all filters again, each with what the few knew of the liquid, its drift and the offset."""
        if self.kept is None:
            return
        mean, cov = self._mixture()
        few, kept = self.weight, self.kept
        self.__init__(self.settings, self.time_s, 0.0)  # type: ignore[misc]
        self.weight = np.full(len(self.first_s), NEGLIGIBLE)
        self.weight[kept] = few
        self.log_weight = np.log(self.weight)
        self._normalise()
        self.state[:] = mean
        self.cov[:] = cov

    def hear_air(self, air_k: float) -> None:
        """Weigh rest against movement by how far the liquid is from the air's temperature [K]."""
        if self.kept is not None:
            return
        far = np.where(self._at_rest, REST_FROM_AIR_K, MOVED_FROM_AIR_K)
        variance = self.cov[:, LIQUID, LIQUID] + AIR_K**2 + far * far
        innovation = self.state[:, LIQUID] - air_k
        says = -0.5 * (innovation * innovation / variance + np.log(variance))
        self.log_weight += np.maximum(says - says.max(), -math.log(AIR_SAYS))
        self._normalise()

    def forget_weights(self, at_rest: float | None = None) -> None:
        """Keep most of what is known of the lag, but nothing of whether the cylinder moves.

        Parameters
        ----------
        at_rest : float or None
            Chance that the cylinder is at rest, or None for the usual one, [-].
        """
        s = self.settings
        rest_weight = s.rest_weight if at_rest is None else at_rest
        half = len(self.first_s) // 2
        lags = self.first_s[:half].tolist()
        prior = self._prior([*lags[:-1], NO_LAG_S], None, rest_weight)
        by_lag = self.weight[:half] + self.weight[half:]
        fresh = np.concatenate([rest_weight * by_lag, (1.0 - rest_weight) * by_lag])
        self.weight = 0.7 * fresh + 0.3 * prior
        self.log_weight = np.log(self.weight)

    @property
    def _at_rest(self) -> NDArray[np.bool_]:
        """Which filters take the cylinder for one at rest: the first half of all that there were."""
        which = np.arange(len(self.first_s)) if self.kept is None else np.array(self.kept)
        return which <= len(self.settings.lags_s)

    def _forget_lag(self, of: NDArray[np.bool_]) -> None:
        sd = np.where(self.first_s > NO_LAG_S, self.settings.lag_width, 1e-3)[of]
        self.state[of, LAG] = 0.0
        self.cov[of, LAG, :] = self.cov[of, :, LAG] = 0.0
        self.cov[of, LAG, LAG] = sd * sd

    def _reset(self, which: int, sd: Floats) -> None:
        self.state[:, which] = 0.0
        self.cov[:, which, :] = 0.0
        self.cov[:, :, which] = 0.0
        self.cov[:, which, which] = sd * sd

    def predict(self, time_s: float) -> None:
        """Carry all filters to `time_s` [s]."""
        dt = time_s - self.time_s
        if dt <= 0.0:
            return
        self.time_s = time_s
        s = self.settings
        keep = math.exp(-dt / s.drift_decay_s)
        k = len(self.first_s)
        step = np.zeros((k, STATES, STATES))
        step[:, LIQUID, LIQUID] = step[:, OFFSET, OFFSET] = 1.0
        step[:, LIQUID, DRIFT] = s.drift_decay_s * (1.0 - keep)
        step[:, DRIFT, DRIFT] = keep
        slower = self._slower()
        ages = dt / self.first_s * slower
        slow_ages = dt / self.body_s * slower
        left, slow_left = np.exp(-ages), np.exp(-slow_ages)
        step[:, FIRST, FIRST] = left
        step[:, BODY, BODY] = slow_left
        step[:, LAG, LAG] = 1.0
        first, body = self.state[:, FIRST], self.state[:, BODY]
        drift_square = self.state[:, DRIFT] ** 2
        self.state = (step @ self.state[:, :, None])[:, :, 0]
        # What a longer lag would have left, for the covariance alone.
        step[:, FIRST, LAG] = first * ages * left
        step[:, BODY, LAG] = body * slow_ages * slow_left
        cov = step @ self.cov @ step.transpose(0, 2, 1)
        cov[:, BODY, BODY] += (
            s.body_uncertainty**2 * (body * body) * slow_ages * np.minimum(1.0, slow_ages + 0.5)
        )
        q = np.where(self._at_rest, s.rest_noise, s.drift_noise)
        cov[:, LIQUID, LIQUID] += q * dt**3 / 3.0
        cov[:, LIQUID, DRIFT] += q * dt * dt / 2.0
        cov[:, DRIFT, LIQUID] += q * dt * dt / 2.0
        cov[:, DRIFT, DRIFT] += q * dt
        cov[:, OFFSET, OFFSET] += s.offset_walk**2 * dt + s.slope_error**2 * drift_square * dt * 1200.0
        self.cov = cov

    def _slower(self) -> Floats:
        """By how much each filter's lag is shorter than its centre; what nonsense has taught it stays within reason."""
        return np.exp(-np.clip(self.state[:, LAG], -MOST_OFF, MOST_OFF))

    def update(self, row: Floats, value: float, variance: float) -> tuple[float, float]:
        """Take one measurement.

        Parameters
        ----------
        row : ndarray[k, 6]
            What the measurement sees of the states.
        value : float
            The measured value, [K].
        variance : float
            Its variance, [K2].

        Returns
        -------
        tuple of float
            Innovation of the mixture [K] and its variance [K2].
        """
        across = (self.cov @ row[:, :, None])[:, :, 0]
        seen = row[:, None, :]
        innovation_variance = (seen @ across[:, :, None]).ravel() + variance
        innovation = value - (seen @ self.state[:, :, None]).ravel()
        mean = float(self.weight @ innovation)
        mixed = float(self.weight @ (innovation_variance + (innovation - mean) ** 2))
        gain = across / innovation_variance[:, None]
        self.state += gain * innovation[:, None]
        self.cov -= gain[:, :, None] * across[:, None, :]
        self.log_weight -= 0.5 * (innovation * innovation / innovation_variance + np.log(innovation_variance))
        self._normalise()
        if float(self.weight.min()) < PRUNED_BELOW:
            self._restart(self.weight < PRUNED_BELOW)
        return mean, mixed

    def expect(self, row: Floats, value: float) -> tuple[float, float]:
        """Return how far a value [K] of `row` [k, 6] is from the mixture's expectation [K], and its variance [K2]."""
        innovation = value - (row * self.state).sum(axis=1)
        mean = float(self.weight @ innovation)
        innovation_variance = np.einsum("ki,kij,kj->k", row, self.cov, row)
        return mean, float(self.weight @ (innovation_variance + (innovation - mean) ** 2))

    def _restart(self, pruned: NDArray[np.bool_]) -> None:
        """Restart pruned filters from the others: an outlier must not find them the best fit."""
        self.state[pruned], self.cov[pruned] = self._mixture()
        self._forget_lag(pruned)
        self.log_weight[pruned] = math.log(RESTART_WEIGHT)
        self._normalise()

    def _mixture(self) -> tuple[Floats, Floats]:
        """Return mean and covariance of all states over all filters."""
        mean = self.weight @ self.state
        apart = self.state - mean
        cov = np.einsum("k,kij->ij", self.weight, self.cov + apart[:, :, None] * apart[:, None, :])
        return mean, cov

    def _normalise(self) -> None:
        log_weight = self.log_weight - self.log_weight.max()
        np.maximum(log_weight, -30.0, out=log_weight)
        weight = np.exp(log_weight)
        total = float(weight.sum())
        if not math.isfinite(total):
            # Compared with a limit, a risk that is not a number would count as small.
            raise FloatingPointError("the filters have lost their numbers")
        self.weight = weight / total
        self.log_weight = log_weight - math.log(total)

    def mixed(self, which: int) -> tuple[float, float]:
        """Return mean and variance of one state over all filters, in the state's unit and its square."""
        values = self.state[:, which]
        mean = float(self.weight @ values)
        return mean, float(self.weight @ (self.cov[:, which, which] + (values - mean) ** 2))

    def risk(self, budget_k: float, gap_time_s: float) -> float:
        """Return the probability that lag and drift together exceed the budget.

        Parameters
        ----------
        budget_k : float
            Allowed difference between clamp and saturation temperature, [K].
        gap_time_s : float
            Standard deviation of the gap between wall and surface per unit of drift, [s].

        Returns
        -------
        float
            Probability, [-].
        """
        state, cov = self.state, self.cov
        mean = state[:, FIRST] + state[:, BODY]
        variance = cov[:, FIRST, FIRST] + cov[:, BODY, BODY] + 2.0 * cov[:, FIRST, BODY]
        variance = variance + gap_time_s**2 * (state[:, DRIFT] ** 2 + cov[:, DRIFT, DRIFT])
        scale = 1.0 / np.sqrt(2.0 * variance)
        upper = ((budget_k - mean) * scale).tolist()
        lower = ((budget_k + mean) * scale).tolist()
        risk = 0.0
        for weight, up, low in zip(self.weight.tolist(), upper, lower, strict=True):
            if weight > 1e-5:
                risk += weight * 0.5 * (math.erfc(up) + math.erfc(low))
        return risk

    def standard_uncertainty_k(self, gap_time_s: float, beside_k: float) -> float:
        """Return the standard uncertainty of the offset: half the width that holds 95 % of the mixture, over 1.96.

        A mixture of a narrow and a few unlikely wide filters has longer tails than its variance says, and a
        narrower middle.

        Parameters
        ----------
        gap_time_s : float
            Standard deviation of the gap between wall and surface per unit of drift, [s].
        beside_k : float
            Uncertainty from elsewhere, [K].

        Returns
        -------
        float
            Uncertainty, [K].
        """
        variance = self.cov[:, OFFSET, OFFSET] + beside_k**2
        variance = variance + gap_time_s**2 * (self.state[:, DRIFT] ** 2 + self.cov[:, DRIFT, DRIFT])
        apart = self.state[:, OFFSET] - self.weight @ self.state[:, OFFSET]
        rows = [
            (weight, off, 1.0 / math.sqrt(2.0 * var))
            for weight, off, var in zip(self.weight.tolist(), apart.tolist(), variance.tolist(), strict=True)
            if weight > NEGLIGIBLE
        ]
        low, high = 0.0, 5.0 * math.sqrt(float((variance + apart * apart).max()))
        for _ in range(20):
            half = 0.5 * (low + high)
            outside = sum(w * (math.erfc((half - o) * k) + math.erfc((half + o) * k)) for w, o, k in rows)
            low, high = (half, high) if 0.5 * outside > 0.05 else (low, half)
        return high / 1.96

    def lag_s(self) -> float | None:
        """Return the clamp's first lag [s], or None if it was never seen to decay or is not yet known."""
        fresh = self.first_s > NO_LAG_S
        share = float(self.weight[fresh].sum())
        if share < 1.0 - MOST_DOUBT_OF_LAG:
            return None
        logs = np.log(self.first_s[fresh]) + self.state[fresh, LAG]
        weight = self.weight[fresh] / share
        mean = float(weight @ logs)
        spread = float(weight @ (self.cov[fresh, LAG, LAG] + (logs - mean) ** 2))
        return math.exp(mean) if spread < KNOWN_LAG**2 else None

    def clamp_row(self, ahead_s: float) -> Floats:
        """What a clamp reading taken `ahead_s` [s] after the filters' time sees of the states, [k, 6]."""
        row = np.zeros((len(self.first_s), STATES))
        row[:, LIQUID] = 1.0
        row[:, DRIFT] = ahead_s
        row[:, OFFSET] = 0.0
        # Ahead is negative: the reading was taken before, when more of the lag was left.
        slower = self._slower()
        ages, slow_ages = ahead_s / self.first_s * slower, ahead_s / self.body_s * slower
        row[:, FIRST] = np.where(self.first_s > NO_LAG_S, np.exp(-ages), 1.0)
        row[:, BODY] = np.exp(-slow_ages)
        return row

    def gauge_row(self, ahead_s: float) -> Floats:
        """What a pressure reading taken `ahead_s` [s] after the filters' time sees of the states, [k, 6]."""
        row = np.zeros((len(self.first_s), STATES))
        row[:, LIQUID] = 1.0
        row[:, DRIFT] = ahead_s
        row[:, OFFSET] = -1.0
        return row
