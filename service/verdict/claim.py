"""What the readings say of the label."""

from __future__ import annotations

from service.codes import ClaimFinding, IdentityFinding
from service.verdict.errors import InvalidEvidence
from service.verdict.hypotheses import HypothesisSpace
from service.verdict.model import Claim, CylinderFacts, Identity
from service.verdict.posterior import Posterior
from service.verdict.settings import VerdictSettings


def find(
    posterior: Posterior,
    space: HypothesisSpace,
    facts: CylinderFacts,
    identity: Identity,
    settings: VerdictSettings,
) -> Claim | None:
    """
    How the label stands against the readings; None where there is no label.

    Parameters
    ----------
    posterior : Posterior
        Of the pairs.
    space : HypothesisSpace
        Its rows.
    facts : CylinderFacts
        Hold the label.
    identity : Identity
        What the readings say by themselves: a label outside its 95 % set is contradicted.
    settings : VerdictSettings
        Thresholds.

    Returns
    -------
    Claim or None
        `probability` is of the designation, `clean` of it without anything else in it.

    Raises
    ------
    InvalidEvidence
        For a designation that is not in the catalogue.
    """
    name = facts.claimed_designation
    if name is None:
        return None
    if name not in space.designations:
        raise InvalidEvidence("claimed_designation", name, "a designation of the catalogue, such as R-410A")
    index = space.designations.index(name)
    probability, clean = float(posterior.identity[index]), float(posterior.by_state["none"][index])
    believable = name in {candidate.designation for candidate in identity.candidates}
    if not believable or probability < settings.claim_contradicted:
        finding = ClaimFinding.CONTRADICTED
    elif identity.finding == IdentityFinding.IDENTIFIED and identity.candidates[0].designation == name:
        finding = ClaimFinding.SUPPORTED
    else:
        finding = ClaimFinding.POSSIBLE
    return Claim(name, finding, probability, clean)
