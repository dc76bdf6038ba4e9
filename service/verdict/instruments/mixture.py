"""A mixture of normal distributions over the errors of a set, and its update by a mixture of linear measurements.

Bayes' rule is exact here: every component meets every explanation of the reading (Kalman's update, 1960, with the
component's weight times the density of its innovation). Then components are joined, least loss first, by the bound
of Runnalls (IEEE Trans. Aerosp. Electron. Syst. 43, 2007, 989), so that a rare but wide component is kept. None is
left out for being rare: that an instrument is far off may look unlikely after one odd pair and be shown by the next.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

KEPT = 12
"""Components kept after an update."""
_APART = 5
"""So many explanations of a reading are followed apart in each component, the heaviest; the rest as one (a choice)."""
_NEGLIGIBLE = 1e-7
"""Parts with less weight are dropped (a choice) [-]."""


@dataclass(frozen=True, slots=True)
class Mixture:
    """
    Normal components.

    Parameters
    ----------
    weight : ndarray[m]
        Adds up to one [-].
    mean : ndarray[m, d]
        Each in its own unit.
    cov : ndarray[m, d, d]
        Likewise.
    """

    weight: Floats
    mean: Floats
    cov: Floats

    @property
    def moments(self) -> tuple[Floats, Floats]:
        """Mean [d] and covariance [d, d] of the whole, each in its component's unit."""
        mean = self.weight @ self.mean
        away = self.mean - mean
        outer = away[:, :, None] * away[:, None, :]
        return np.asarray(mean), np.einsum("m,mij->ij", self.weight, self.cov + outer)


@dataclass(frozen=True, slots=True)
class Measurement:
    """
    A reading's error under each of several explanations, value_k = row_k x + noise_k, or none of them.

    Parameters
    ----------
    weight : ndarray[k]
        Prior probability of each explanation [-].
    value, variance : ndarray[k]
        What the combination of errors would be under it, and its variance.
    row : ndarray[k, d]
        The combination. It may have fewer columns than the state: what it leaves out it does not touch.
    unexplained : float
        Prior probability of none of them times the density of the reading then; such a reading teaches nothing.
    """

    weight: Floats
    value: Floats
    variance: Floats
    row: Floats
    unexplained: float


def update(prior: Mixture, seen: Measurement) -> tuple[Mixture, Floats]:
    """
    Posterior of the errors.

    Parameters
    ----------
    prior : Mixture
        m components.
    seen : Measurement
        k explanations.

    Returns
    -------
    Mixture
        At most `KEPT` components.
    ndarray[k + 1]
        Posterior probability of each explanation, that of none last [-].
    """
    size = prior.mean.shape[1]
    cross, spread, innovation, weight, left = _met(prior, seen)
    total = float(weight.sum() + left.sum())
    if total <= 0.0:
        return prior, np.append(np.zeros(seen.weight.size), 1.0)
    gain = cross / spread[:, :, None]
    mean = prior.mean[:, None, :] + gain * innovation[:, :, None]
    cov = prior.cov[:, None] - gain[..., :, None] * cross[..., None, :]
    explained = np.append(weight.sum(axis=0), left.sum()) / total
    parts = _followed(weight, mean, cov)
    joined = Mixture(
        np.concatenate([parts[0].ravel(), left]) / total,
        np.concatenate([parts[1].reshape(-1, size), prior.mean]),
        np.concatenate([parts[2].reshape(-1, size, size), prior.cov]),
    )
    return reduced(joined), explained


def _followed(weight: Floats, mean: Floats, cov: Floats) -> tuple[Floats, Floats, Floats]:
    """In each component [m] the heaviest of its parts [m, k] as they are, and the others joined into one."""
    order = np.argsort(-weight, axis=1, kind="stable")
    weight = np.take_along_axis(weight, order, 1)
    mean = np.take_along_axis(mean, order[..., None], 1)
    cov = np.take_along_axis(cov, order[..., None, None], 1)
    if weight.shape[1] <= _APART + 1:
        return weight, mean, cov
    share = weight[:, _APART:]
    total = share.sum(axis=1, keepdims=True)
    share = share / np.maximum(total, np.finfo(float).tiny)
    middle = np.einsum("mk,mki->mi", share, mean[:, _APART:])
    away = mean[:, _APART:] - middle[:, None]
    spread = np.einsum("mk,mkij->mij", share, cov[:, _APART:] + away[..., :, None] * away[..., None, :])
    return (
        np.concatenate([weight[:, :_APART], total], axis=1),
        np.concatenate([mean[:, :_APART], middle[:, None]], axis=1),
        np.concatenate([cov[:, :_APART], spread[:, None]], axis=1),
    )


def density(prior: Mixture, seen: Measurement) -> float:
    """How likely a reading was, over all explanations and errors [1/unit of the value]."""
    _, _, _, weight, left = _met(prior, seen)
    return float(weight.sum() + left.sum())


def _met(prior: Mixture, seen: Measurement) -> tuple[Floats, Floats, Floats, Floats, Floats]:
    """Every component against every explanation.

    Covariance with the value [m, k, d], its variance and what it differs by [m, k], their joint densities [m, k], and
    of none of the explanations [m].
    """
    row = np.pad(seen.row, ((0, 0), (0, prior.mean.shape[1] - seen.row.shape[1])))
    cross = np.einsum("mij,kj->mki", prior.cov, row)
    spread = np.einsum("mki,ki->mk", cross, row) + seen.variance
    innovation = seen.value - prior.mean @ row.T
    weight = np.exp(-0.5 * innovation**2 / spread) / np.sqrt(2 * np.pi * spread)
    weight *= prior.weight[:, None] * seen.weight
    return cross, spread, innovation, weight, prior.weight * seen.unexplained


def reduced(mixture: Mixture, keep: int = KEPT) -> Mixture:
    """The same in at most `keep` components; mean and covariance of the whole change only by what is negligible."""
    order = np.argsort(-mixture.weight, kind="stable")
    order = order[mixture.weight[order] > _NEGLIGIBLE]
    weight, mean, cov = mixture.weight[order], mixture.mean[order], mixture.cov[order]
    loss = np.full((weight.size, weight.size), np.inf)
    for i in range(weight.size - 1):
        loss[i, i + 1 :] = _loss(weight, mean, cov, i)[i + 1 :]
    alive = weight.size
    while alive > keep:
        i, j = divmod(int(loss.argmin()), weight.size)
        weight[i], mean[i], cov[i] = _joined(weight[[i, j]], mean[[i, j]], cov[[i, j]])
        weight[j] = 0.0
        loss[j, :] = loss[:, j] = np.inf
        fresh = np.where(weight > 0, _loss(weight, mean, cov, i), np.inf)
        loss[i, i + 1 :], loss[:i, i] = fresh[i + 1 :], fresh[:i]
        alive -= 1
    left = weight > 0
    return Mixture(weight[left] / weight[left].sum(), mean[left], cov[left])


def _joined(weight: Floats, mean: Floats, cov: Floats) -> tuple[float, Floats, Floats]:
    total = float(weight.sum())
    middle, spread = Mixture(weight / total, mean, cov).moments
    return total, middle, spread


def _loss(weight: Floats, mean: Floats, cov: Floats, i: int) -> Floats:
    """Runnalls' bound [m] on what is lost by joining component i with each other [nat]."""
    total = weight + weight[i]
    away = mean - mean[i]
    share = (weight * weight[i] / total**2)[:, None, None]
    both = (weight[:, None, None] * cov + weight[i] * cov[i]) / total[:, None, None]
    both = both + share * away[:, :, None] * away[:, None, :]
    own = np.linalg.slogdet(cov)[1]
    return np.asarray(0.5 * (total * np.linalg.slogdet(both)[1] - weight * own - weight[i] * own[i]))
