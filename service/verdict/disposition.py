"""What to do with the cylinder: the choice of least expected cost among those that the findings allow."""

from __future__ import annotations

from service.codes import (
    ClaimFinding,
    ContaminationFinding,
    ContentsFinding,
    DispositionCode,
    IdentityFinding,
)
from service.verdict import advice
from service.verdict.hypotheses import HypothesisSpace
from service.verdict.model import Disposition, Findings
from service.verdict.posterior import Posterior
from service.verdict.settings import VerdictSettings

LIQUID_FULL_ALARM = 0.10
"""From this probability on a liquid-full cylinder is treated as one (a choice) [-]."""


def worlds(posterior: Posterior, label: int | None = None) -> dict[str, float]:
    """
    Probability of each thing the cylinder may turn out to be, as far as costs are concerned.

    Parameters
    ----------
    posterior : Posterior
        Of the pairs.
    label : int or None
        Index of the designation on the label.

    Returns
    -------
    dict of str to float
        By `WORLDS`; sums to one [-].
    """
    states = {name: float(values.sum()) for name, values in posterior.by_state.items()}
    named = int(posterior.identity.argmax()) if label is None else label
    clean = float(posterior.by_state["none"][named])
    other = states["none"] - clean
    return {
        "clean": clean,
        "mislabeled": 0.0 if label is None else other,
        "air": states["air"],
        "shifted": states["shifted"],
        "mixed": states["mixed"],
        "vapour-only": states["vapour-only"],
        "liquid-full": states["liquid-full"],
        "unknown": posterior.something_else + (other if label is None else 0.0),
    }


def choose(
    posterior: Posterior,
    space: HypothesisSpace,
    findings: Findings,
    settings: VerdictSettings,
    *,
    more_to_learn: bool,
) -> Disposition:
    """
    The choice of least expected cost that no finding forbids; liquid-full overrides cost.

    Parameters
    ----------
    posterior : Posterior
        Of the pairs.
    space : HypothesisSpace
        Its rows.
    findings : Findings
        What was found in it.
    settings : VerdictSettings
        Costs.
    more_to_learn : bool
        Whether a further measurement is worth its while; nothing is measured for nothing.

    Returns
    -------
    Disposition
        With the expected costs of all that was allowed.
    """
    claim = findings.claim
    chances = worlds(posterior, None if claim is None else space.designations.index(claim.designation))
    costs = {
        code: sum(row[world] * chance for world, chance in chances.items())
        for code, row in settings.costs.items()
    }
    in_catalogue = 1.0 - posterior.something_else
    if chances["liquid-full"] >= LIQUID_FULL_ALARM * max(in_catalogue, 1e-12):
        return Disposition(DispositionCode.HOLD, advice.LIQUID_FULL, costs)
    for code in _forbidden(findings) | (set() if more_to_learn else {DispositionCode.MEASURE_AGAIN}):
        costs.pop(code, None)
    code = min(costs, key=lambda name: (costs[name], name))
    return Disposition(code, advice.write(code, findings), costs)


def _forbidden(findings: Findings) -> set[str]:
    """Choices that the findings rule out whatever they cost; hold is never one of them."""
    claim, identity = findings.claim, findings.identity
    if findings.unexplained_gas or (claim is not None and claim.finding == ClaimFinding.CONTRADICTED):
        return {DispositionCode.KEEP, DispositionCode.RECOVER_AND_RECYCLE}
    named = identity.finding == IdentityFinding.IDENTIFIED or (
        claim is not None and identity.finding == IdentityFinding.NARROWED
    )
    clean = findings.contamination.finding in (
        ContaminationFinding.NONE_DETECTED,
        ContaminationFinding.UNDECIDED,
    )
    liquid = findings.contents_state.finding not in (ContentsFinding.VAPOR_ONLY, ContentsFinding.LIQUID_FULL)
    return set() if named and clean and liquid else {DispositionCode.KEEP}
