"""Every term of a verdict: priors used, likelihood per pair, residual in kelvin."""

from __future__ import annotations

import numpy as np

from service.verdict.hypotheses import TOLD_AS, HypothesisSpace
from service.verdict.model import Explanation, Term
from service.verdict.posterior import Posterior
from service.verdict.priors import Prevalence
from service.verdict.quadrature_grids import Grid

_TERMS = 24
"""Most hypotheses that an explanation lists (a choice)."""
_PRIORS_SHOWN = 1e-4
"""Least prior of a designation that is listed (a choice) [-]."""
_STATE_NAMES = ("none", "air", "mixed", "shifted", "vapour-only", "liquid-full")


def explain(posterior: Posterior, space: HypothesisSpace, prevalence: Prevalence) -> Explanation:
    """The leading terms, one for each designation, state and partner, at its best parameter."""
    priors = posterior.priors
    designation = {
        name: float(p)
        for name, p in sorted(
            zip(space.designations, priors.designation, strict=True), key=lambda item: -item[1]
        )
        if p >= _PRIORS_SHOWN
    }
    states = priors.designation @ priors.states
    return Explanation(
        prior_kind=priors.kind,
        prior_source=f"{prevalence.region} ({prevalence.mark}): {prevalence.source}",
        designation_priors=designation,
        state_priors={
            **dict(zip(_STATE_NAMES, states.tolist(), strict=True)),
            "something-else": priors.something_else,
        },
        terms=_terms(posterior, space),
        hypotheses=space.size,
    )


def _terms(posterior: Posterior, space: HypothesisSpace) -> tuple[Term, ...]:
    found: list[tuple[float, str, tuple[int, ...]]] = []
    for state, block in space.blocks.items():
        table = posterior.table(block)
        free = 1 if state != "mixed" else 2
        sums = table.reshape(*block.shape[:free], -1).sum(axis=-1)
        for flat in np.argsort(-sums, axis=None, kind="stable")[:_TERMS]:
            where = np.unravel_index(int(flat), sums.shape)
            best = np.unravel_index(int(table[where].argmax()), block.shape[free:])
            found.append((float(sums[where]), state, (*(int(i) for i in where), *(int(i) for i in best))))
    found.sort(key=lambda item: -item[0])
    return tuple(_term(posterior, space, *item) for item in found[:_TERMS] if item[0] > 0)


def _term(
    posterior: Posterior, space: HypothesisSpace, probability: float, state: str, index: tuple[int, ...]
) -> Term:
    evidence, priors = posterior.evidence, posterior.priors
    row = [space.row(state, *index)]
    slopes = space.slope(evidence.temp_k, row)[0]
    residual = evidence.log_pressure - space.log_pressure(evidence.temp_k, row)[0]
    covariance = evidence.covariance(slopes, float(space.variance[row[0]]))
    variance = np.diag(covariance)
    _, log_det = np.linalg.slogdet(2 * np.pi * covariance)
    prior = float(priors.designation[index[0]] * priors.rows(state)[index[0]])
    if state == "mixed":
        prior *= float(priors.partner[index[0], index[1]])
    return Term(
        designation=space.designations[index[0]],
        state=TOLD_AS.get(state, state),
        detail=detail(space, state, index),
        prior=prior,
        log_likelihood=float(-0.5 * (residual @ np.linalg.solve(covariance, residual) + log_det)),
        posterior=probability,
        residuals_k=tuple((residual / slopes).tolist()),
        log_likelihood_per_pair=tuple(
            (-0.5 * (residual**2 / variance + np.log(2 * np.pi * variance))).tolist()
        ),
    )


def detail(space: HypothesisSpace, state: str, index: tuple[int, ...]) -> str:
    """The free parameter of one row in words."""

    def percent(grid: Grid, at: int) -> str:
        return f"{100 * float(grid.nodes[at]):.1f} %"

    if state == "none":
        return f"alone, {percent(space.fill, index[1])} full of liquid"
    if state == "air":
        kilopascals = float(space.air.nodes[index[1]]) / 1e3
        return f"{kilopascals:.0f} kPa of air at 25 °C, {percent(space.air_fill, index[2])} full"
    if state == "shifted":
        faint = ", too little to move it: counts as none" if space.negligible[index[0], index[1]] else ""
        return f"{percent(space.loss, index[1])} of the charge lost as vapor{faint}"
    if state == "oily":
        return f"alone, {percent(space.fill, index[1])} full, oil takes {percent(space.oil, index[2])} of the pressure"
    if state == "oily-air":
        kilopascals = float(space.oily_air.nodes[index[1]]) / 1e3
        return f"{kilopascals:.0f} kPa of air at 25 °C, oil takes {percent(space.airy_oil, index[3])} of the pressure"
    if state == "several":
        return _several(space, index)
    return f"{percent(space.share, index[2])} {space.contaminants[index[1]]}"


def _several(space: HypothesisSpace, index: tuple[int, ...]) -> str:
    drawn = space.several
    both, split = 100 * float(space.share.nodes[drawn.share[index]]), float(drawn.split[index])
    first, second = (space.contaminants[int(one[index])] for one in (drawn.first, drawn.second))
    return f"such as {both * split:.0f} % {first} and {both * (1 - split):.0f} % {second}, three or more"
