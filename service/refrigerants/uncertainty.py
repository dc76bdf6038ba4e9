"""How far the modelled pressure of a designation, or of a mixture of two, can be trusted.

One sigma as a fraction of absolute pressure. A judgement drawn from the project's comparison of
CoolProp 8.0.0 with 767 published values of 37 fluids and with ANSI/ASHRAE 34 bubble and dew points
of 87 blends: pure fluids 0.15 %, HFC blends 0.3 %, HFO blends 0.7 %, blends with hydrocarbons 1 %,
HCFC blends with R-124 or R-125 2.5 %, a guessed pair 3 % or more at mid composition; the tolerance
that the standard allows the maker adds 0.3 to 1 %.
"""

from collections.abc import Mapping
from itertools import combinations
from math import hypot

from service.refrigerants.composition import Composition
from service.refrigerants.fluids import FLUIDS, Family
from service.refrigerants.pair_remedies import REPLACED, Remedy, remedy_for

PURE = 0.0015

_OLDER = (0.003, "pure fluid, older reference equation: up to 1.1 % from published values")
_NOT_COMPARED = (0.003, "pure fluid: no independent figure was compared")

DOUBTED_PURE: Mapping[str, tuple[float, str]] = {
    **dict.fromkeys(("R-11", "R-23", "R-113", "R-114", "R-115"), _OLDER),
    "R-21": (0.006, "pure fluid: 1.1 % from the VDI correlation when cold"),
    "R-40": (0.012, "pure fluid: -1.7 to +1.2 % from three correlations that agree"),
    "R-161": (0.004, "pure fluid: up to 0.8 % from the Perry and VDI correlations"),
    "R-1130(E)": (0.010, "pure fluid: up to 1.6 % from a Wagner correlation"),
    "R-C270": (0.030, "pure fluid: correlations differ from it, and from each other, by up to 5 %"),
    **dict.fromkeys(("R-236ea", "R-245ca", "R-365mfc", "R-13I1", "R-E143a"), _NOT_COMPARED),
    **dict.fromkeys(("R-1123", "R-1132(E)", "R-1224yd(Z)", "R-1234ze(Z)", "R-1243zf"), _NOT_COMPARED),
    **dict.fromkeys(("R-1336mzz(E)", "R-1336mzz(Z)"), _NOT_COMPARED),
}
"""Pure fluids whose equation deserves less than the common trust."""

_WIDE_GLIDE = 0.15

SUSPECT: Mapping[str, tuple[float, str]] = {
    "R-445A": (0.20, "R-744 + R-1234ze(E): the shipped pair is 41 % off at the bubble point; do not claim"),
    "R-463A": (0.08, "bubble point 8 % above ANSI/ASHRAE 34"),
    "R-431A": (0.07, "7 % above ANSI/ASHRAE 34"),
    "R-443A": (0.05, "dew point 5 % above ANSI/ASHRAE 34"),
    "R-504": (0.03, "the equation of state is unsure near this azeotrope"),
}
"""Designations for which CoolProp 8.0.0 itself looks wrong."""


def stand_in(first: str, second: str, *, shipped: bool) -> Remedy | None:
    """Say which remedy a pair carries; none where the shipped pair is used."""
    replaced = REPLACED.get(frozenset((first, second)))
    if replaced is not None:
        return replaced
    return None if shipped else remedy_for(first, second)


def pair_uncertainty(first: str, second: str, remedy: Remedy | None) -> tuple[float, str]:
    """Estimate one sigma of a binary's pressure at mid composition.

    Parameters
    ----------
    first : str
        Designation of a component.
    second : str
        Designation of another.
    remedy : Remedy or None
        What stands in for the pair, none for a shipped one.

    Returns
    -------
    tuple[float, str]
        Relative uncertainty [-] and the reason.
    """
    names = {first, second}
    families = {FLUIDS[first].family, FLUIDS[second].family}
    if names == {"R-744", "R-1234ze(E)"}:
        return SUSPECT["R-445A"]
    if remedy is not None:
        return remedy.relative_uncertainty, f"{first}+{second} {remedy.kind} (gammaT {remedy.gamma_t})"
    if Family.HCFC in families and names & {"R-124", "R-125"}:
        return 0.025, f"{first}+{second} HCFC with R-124 or R-125"
    for family, value in ((Family.HC, 0.01), (Family.ETHER, 0.01), (Family.OTHER, 0.01), (Family.HFO, 0.007)):
        if family in families:
            return value, f"shipped pair with {family}"
    return (0.003, "shipped HFC pair") if families == {Family.HFC} else (0.005, "shipped pair")


def mixing_uncertainty(
    composition: Composition, remedies: Mapping[frozenset[str], Remedy | None]
) -> tuple[float, str]:
    """Combine the pairs of a mixture, each weighted by 4 x_i x_j (one at mid composition).

    Parameters
    ----------
    composition : Composition
        The mixture.
    remedies : Mapping[frozenset[str], Remedy or None]
        What stands in for each pair of its components.

    Returns
    -------
    tuple[float, str]
        Relative uncertainty [-]; the pair that dominates it.
    """
    shares = dict(zip(composition.components, composition.mole_fractions, strict=True))
    terms = [(0.0, "pure")]
    for first, second in combinations(composition.components, 2):
        value, reason = pair_uncertainty(first, second, remedies[frozenset((first, second))])
        terms.append((value * 4 * shares[first] * shares[second], reason))
    return hypot(*(value for value, _ in terms)), max(terms)[1]


def class_uncertainty(composition: Composition) -> tuple[float, str]:
    """Give the floor that a blend's class of components sets; see the module's text.

    Parameters
    ----------
    composition : Composition
        The refrigerant.

    Returns
    -------
    tuple[float, str]
        Relative uncertainty [-] and the class.
    """
    if composition.is_pure:
        return DOUBTED_PURE.get(composition.components[0], (PURE, "pure fluid, reference equation"))
    names, families = set(composition.components), {FLUIDS[name].family for name in composition.components}
    if Family.HCFC in families and names & {"R-124", "R-125"}:
        return 0.025, "HCFC blend with R-124 or R-125"
    if families & {Family.HC, Family.ETHER}:
        return 0.01, "blend with hydrocarbons"
    if Family.OTHER in families:
        return 0.01, "blend with a component outside the halocarbon families"
    if Family.HFO in families:
        return 0.007, "HFO blend"
    return (0.003, "HFC blend") if families == {Family.HFC} else (0.005, "blend of CFC, HCFC or PFC")


def designation_uncertainty(
    designation: str,
    composition: Composition,
    remedies: Mapping[frozenset[str], Remedy | None],
    log_glide: float,
) -> tuple[float, str]:
    """State one sigma of a designation's saturation pressure and what it is made of.

    Parameters
    ----------
    designation : str
        Which refrigerant, to look up the known discrepancies.
    composition : Composition
        What it is made of.
    remedies : Mapping[frozenset[str], Remedy or None]
        What stands in for each pair.
    log_glide : float
        ln(bubble pressure / dew pressure) near 25 C, [-]: the maker's tolerance moves a blend's
        pressure the more, the further its components lie apart.

    Returns
    -------
    tuple[float, str]
        Relative uncertainty [-] and the reason.
    """
    base, reason = class_uncertainty(composition)
    if composition.is_pure:
        return base, f"{reason} {base:.2%}"
    mixing, dominant = mixing_uncertainty(composition, remedies)
    tolerance = 0.003 + 0.007 * min(max(log_glide / _WIDE_GLIDE, 0.0), 1.0)
    suspect, why = SUSPECT.get(designation, (0.0, ""))
    model = max(base, mixing, suspect)
    parts = [f"{reason} {base:.2%}", f"pairs {mixing:.2%} ({dominant})", f"maker's tolerance {tolerance:.2%}"]
    return hypot(model, tolerance), "; ".join([*parts, *([f"{why} {suspect:.0%}"] if why else [])])
