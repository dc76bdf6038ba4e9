"""Binary pairs that the equation of state lacks or has wrong, and what stands in for them.

Every remedy is one number, the temperature reducing parameter gammaT of the multi-fluid model,
with betaT = betaV = gammaV = 1 and no departure function. Three strengths of evidence:

``fitted``
    replaces a shipped pair; decided by azeotrope data of the blend itself.
``assigned``
    no shipped pair; chosen from blends whose bubble and dew points are tabulated, or by
    close analogy with a pair that is known.
``family``
    no shipped pair and no data: the mean over the pairs of the same two families.

Source of the figures: the project's own comparison of CoolProp 8.0.0 with ANSI/ASHRAE 34 bubble
and dew points at one atmosphere, as quoted pair by pair in ``evidence``. One standard deviation of
gammaT, 0.015, is worth 2.5 to 4 % of bubble pressure at mid composition.
"""

from dataclasses import dataclass
from itertools import product

from service.refrigerants.fluids import FLUIDS, Family


@dataclass(frozen=True, slots=True)
class Remedy:
    """Stand-in for one binary pair.

    ``gamma_t`` is the factor of the reducing temperature [-], ``relative_uncertainty`` one sigma of the mixture's
    pressure at mid composition [-].
    """

    gamma_t: float
    kind: str
    evidence: str
    relative_uncertainty: float


Pair = frozenset[str]


def _pairs(first: str, second: str, remedy: Remedy) -> dict[Pair, Remedy]:
    return {frozenset(pair): remedy for pair in product(first.split(), second.split())}


def _assigned(gamma_t: float, evidence: str, relative_uncertainty: float = 0.02) -> Remedy:
    return Remedy(gamma_t, "assigned", evidence, relative_uncertainty)


REPLACED: dict[Pair, Remedy] = {
    **_pairs("R-22", "R-115", Remedy(0.9478, "fitted", "R-502, 5 points, all within 0.6 %", 0.005)),
    **_pairs("R-12", "R-152a", Remedy(0.9429, "fitted", "R-500, 3 points, all within 0.1 %", 0.003)),
}
"""Shipped pairs that contradict the blend they make; they are overwritten. The factor gammaT of the reducing
temperature is fitted by the project with CoolProp to the published azeotropes named [-]."""

_PENTANE = "from the butane pairs; {} (dew -10 to -13 % with gammaT = 1)"

ASSIGNED: dict[Pair, Remedy] = {
    **_pairs("R-22", "R-125", _assigned(0.978, "R-402A -2.0/-0.1 %, R-402B -1.2/-0.4 % (bubble/dew)")),
    **_pairs(
        "R-22 R-142b",
        "R-600a",
        _assigned(0.940, "R-406A -0.9/+1.2 %; R-414A/B, unseen, -1.8/-2.7 and -3.0/-4.1 %"),
    ),
    **_pairs(
        "R-22",
        "R-124",
        _assigned(0.988, "between 0.976 (ASHRAE 34, R-401A) and 1.000 (recalled maker sheets)", 0.03),
    ),
    **_pairs("R-152a", "R-124", _assigned(1.00, "R-401A to R-401C")),
    **_pairs("R-124", "R-600a R-600", _assigned(0.955, "analogy; R-416A +2.3/+0.6 %", 0.025)),
    **_pairs("R-E170", "R-152a", _assigned(0.99, "analogy; a fit to R-435A would want 0.976")),
    **_pairs("R-1234ze(E)", "R-600", _assigned(0.925, "R-446A")),
    **_pairs("R-32", "R-601 R-601a", _assigned(0.87, _PENTANE.format("R-438A -2.5/-0.7 %"))),
    **_pairs("R-125", "R-601 R-601a", _assigned(0.90, _PENTANE.format("R-437A -2.3/-1.1 %"))),
    **_pairs("R-134a", "R-601 R-601a", _assigned(0.89, _PENTANE.format("R-453A +0.8/+0.2 %"))),
    **_pairs("R-227ea", "R-601 R-601a", _assigned(0.91, _PENTANE.format("R-453A +0.8/+0.2 %"))),
    **_pairs("R-290 R-600a", "R-218", _assigned(0.92, "analogy with the HC + PFC pairs")),
    **_pairs("R-142b", "R-218", _assigned(0.93, "analogy with the HCFC + PFC pairs", 0.03)),
    **_pairs("R-152a", "R-C318", _assigned(0.90, "analogy with the HFC + PFC pairs", 0.03)),
    **_pairs("R-142b", "R-C318", _assigned(0.96, "analogy with the HCFC + PFC pairs", 0.03)),
    **_pairs("R-227ea", "R-236fa", _assigned(1.00, "R-458A 0/-1.2 %")),
}
"""Pairs that are not shipped, with gammaT decided for that pair: estimated from the blend or the analogy that each
names, with what is left of its published bubble and dew points [-]."""

_NO_AVERAGE = Remedy(1.0, "family", "no average for these two families: ideal reducing function", 0.05)
"""gammaT and standard uncertainty where no pair of two families is shipped (a choice) [-]."""


def _family(gamma_t: float, sd: float | None) -> Remedy:
    spread = f"sd {sd}" if sd is not None else "few pairs"
    return Remedy(gamma_t, "family", f"family average, {spread}", 0.03 if (sd or 0) < 0.02 else 0.04)


F = Family
FAMILY_AVERAGE: dict[frozenset[Family], Remedy] = {
    frozenset(key): value
    for key, value in {
        (F.CFC, F.CFC): _family(1.008, 0.02),
        (F.CFC, F.HC): _family(0.978, 0.02),
        (F.CFC, F.HCFC): _family(0.974, 0.015),
        (F.CFC, F.HFC): _family(0.941, 0.025),
        (F.HC, F.HC): _family(1.005, None),
        (F.HC, F.HCFC): _family(0.970, 0.017),
        (F.HC, F.HFC): _family(0.907, 0.020),
        (F.HC, F.HFO): _family(0.943, 0.018),
        (F.HC, F.PFC): _family(0.915, 0.017),
        (F.HCFC, F.HCFC): _family(1.005, 0.006),
        (F.HCFC, F.HFC): _family(0.987, 0.012),
        (F.HCFC, F.PFC): _family(0.945, 0.025),
        (F.HFC, F.HFC): _family(1.002, 0.016),
        (F.HFC, F.HFO): _family(0.987, 0.014),
        (F.HFO, F.HFO): _family(0.995, None),
        (F.HFC, F.PFC): _family(0.903, 0.033),
        (F.CFC, F.PFC): _family(0.969, None),
        (F.ETHER, F.HFC): _family(1.02, None),
        (F.ETHER, F.HC): _family(0.975, None),
    }.items()
}
"""Means of gammaT over the pairs that CoolProp 8.0.0 ships, computed by the project [-]."""


def remedy_for(first: str, second: str) -> Remedy:
    """Say what stands in for a pair that is not shipped.

    Parameters
    ----------
    first : str
        Designation of a pure component.
    second : str
        Designation of another.

    Returns
    -------
    Remedy
        The assigned value where there is one, else the family average.
    """
    assigned = ASSIGNED.get(frozenset((first, second)))
    if assigned is not None:
        return assigned
    families = frozenset((FLUIDS[first].family, FLUIDS[second].family))
    return FAMILY_AVERAGE.get(families, _NO_AVERAGE)
