"""Build the catalogue from the facts file and the predefined blends of the equation of state.

A fact is one row: designation, field, value, mark, source. What no row states and nothing can
compute stays unknown, with the reason.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import combinations
from math import log

from service.refrigerants import equation_of_state as eos
from service.refrigerants.catalogue import (
    SOURCED_FIELDS,
    Catalogue,
    Component,
    Refrigerant,
    Sourced,
)
from service.refrigerants.composition import Composition, from_mass
from service.refrigerants.fluids import FLUIDS, LEFT_OUT, Family
from service.refrigerants.pair_remedies import Remedy
from service.refrigerants.two_phase import NoConvergence
from service.refrigerants.uncertainty import Uncertainties, stand_in

Facts = Mapping[str, Mapping[str, Sourced[str]]]

_GLIDE_TEMPS_K = (298.15, 273.15, 253.15)
"""Where a blend's glide is looked for, the first at which it has both bubble and dew point (25, 0, -20 °C; a choice)
[K]."""
_NUMBERS = ("odp", "gwp_ar4", "gwp_ar5", "gwp_ar6", "rcl_ppm", "boiling_bubble_c", "boiling_dew_c")
_DIRECT_GWP_OF_HYDROCARBONS = 0.0
"""Of a hydrocarbon part of a blend for which none is listed: the reports count no direct warming of them (a choice;
they come out below 1) [-]."""
_OXYGEN_LIMIT_PPM = 140_000.0
"""Greatest concentration limit that a blend can have: the oxygen deprivation limit of ANSI/ASHRAE 34 up to 1000 m,
from memory [ppm by volume]."""
_UNKNOWN = {
    "rcl_ppm": "not in the code tables read; take it from the edition of ANSI/ASHRAE 34 in force",
    "safety_class": "no class known here; treat as toxic and flammable until one is",
    "tolerance": "not read",
    "gwp_ar4": "not listed there, or not read",
    "gwp_ar5": "not listed there, or not read",
    "gwp_ar6": "not listed there, or not read",
    "odp": "not known here",
    "un_number": "not a liquefied gas by 49 CFR 173.115, or its entry was not read",
    "shipping_name": "not a liquefied gas by 49 CFR 173.115, or its entry was not read",
    "hazard_division": "not a liquefied gas by 49 CFR 173.115, or its entry was not read",
    "boiling_bubble_c": "not read",
    "boiling_dew_c": "not read",
}


@dataclass(frozen=True, slots=True)
class CompositionMismatch(ValueError):
    """The facts file and the predefined blend disagree about a composition, by mass fractions [-]."""

    designation: str
    stated: Mapping[str, float]
    predefined: Mapping[str, float]


def read_facts(rows: Iterable[Mapping[str, str]]) -> dict[str, dict[str, Sourced[str]]]:
    """Group rows of the facts file by designation and field."""
    facts: dict[str, dict[str, Sourced[str]]] = {}
    for row in rows:
        fact = Sourced(row["value"], row["source"], row["mark"])
        facts.setdefault(row["designation"], {})[row["field"]] = fact
    return facts


def composition_of(refrigerant: Refrigerant) -> Composition:
    """Mole fractions of a refrigerant."""
    return from_mass(refrigerant.mass_fractions, _MolarMasses())


class _MolarMasses(dict[str, float]):
    def __missing__(self, component: str) -> float:
        return eos.molar_mass_kg_mol(component)


def parse_composition(text: str) -> dict[str, float]:
    """Read ``R-32 50 + R-125 50`` (percent by mass) as mass fractions, [-]."""
    parts = (part.rsplit(" ", 1) for part in text.split(" + "))
    return {name.strip(): round(float(percent) / 100, 6) for name, percent in parts}


def blend_compositions(facts: Facts) -> dict[str, dict[str, float]]:
    """List every blend and its nominal mass fractions, [-].

    Parameters
    ----------
    facts : Facts
        Facts by designation and field.

    Returns
    -------
    dict[str, dict[str, float]]
        Predefined blends, rounded to the 0.1 % that the standard gives, and those that only the
        facts state.

    Raises
    ------
    CompositionMismatch
        If both state a composition and they differ.
    """
    blends = {}
    for name in eos.predefined_blends():
        designation = f"R-{name[1:]}"
        if designation not in LEFT_OUT:
            fractions = eos.predefined_mass_fractions(name)
            blends[designation] = {component: round(w, 3) for component, w in fractions.items()}
    for designation, fields in facts.items():
        if "composition_mass_pct" not in fields:
            continue
        stated = parse_composition(str(fields["composition_mass_pct"].value))
        predefined = blends.setdefault(designation, stated)
        if stated != predefined:
            raise CompositionMismatch(designation, stated, predefined)
    return blends


def build_catalogue(facts: Facts, stated: Uncertainties) -> Catalogue:
    """Build every designation whose components have an equation of state.

    Parameters
    ----------
    facts : Facts
        Facts by designation and field.
    stated : Uncertainties
        How far the modelled pressures can be trusted.

    Returns
    -------
    Catalogue
        Pure refrigerants first, then blends by number.
    """
    pures = [name for name in FLUIDS if name not in LEFT_OUT]
    compositions = {name: {name: 1.0} for name in sorted(pures, key=_number)}
    blends = blend_compositions(facts)
    compositions |= {name: blends[name] for name in sorted(blends, key=_number)}
    return Catalogue({name: _build(name, parts, facts, stated) for name, parts in compositions.items()})


def _number(designation: str) -> tuple[int, str]:
    digits = "".join(c for c in designation.split("(")[0] if c.isdigit())
    return int(digits or 0), designation


def _build(designation: str, parts: Mapping[str, float], facts: Facts, stated: Uncertainties) -> Refrigerant:
    composition = from_mass(parts, _MolarMasses())
    remedies = remedies_of(composition)
    uncertainty, reason = stated.designation(designation, composition, remedies, _log_glide(composition))
    sourced = {name: _sourced(name, designation, parts, facts) for name in SOURCED_FIELDS}
    return Refrigerant(
        designation=designation,
        components=tuple(Component(name, w) for name, w in parts.items()),
        molar_mass_kg_mol=sum(
            eos.molar_mass_kg_mol(name) * x
            for name, x in zip(composition.components, composition.mole_fractions, strict=True)
        ),
        model=_model(composition, remedies),
        relative_uncertainty=round(uncertainty, 5),
        uncertainty_reason=reason,
        **sourced,  # type: ignore[arg-type]
    )


def remedies_of(composition: Composition) -> dict[frozenset[str], Remedy | None]:
    """Say for each pair of a mixture what stands in for it, none where the shipped pair is used."""
    return {
        frozenset(pair): stand_in(*pair, shipped=eos.is_shipped(*pair))
        for pair in combinations(composition.components, 2)
    }


def _log_glide(composition: Composition) -> float:
    if composition.is_pure:
        return 0.0
    equation = eos.EquationOfState(composition)
    for temp in _GLIDE_TEMPS_K:
        try:
            return log(equation.bubble(temp).pressure_pa / equation.dew(temp).pressure_pa)
        except NoConvergence:
            continue
    return 1.0


def _model(composition: Composition, remedies: Mapping[frozenset[str], Remedy | None]) -> str:
    if composition.is_pure:
        return "reference equation of state"
    stand_ins = [
        f"{'+'.join(sorted(pair))} {remedy.kind} gammaT {remedy.gamma_t}"
        for pair, remedy in remedies.items()
        if remedy is not None
    ]
    return "multi-fluid mixture" + (": " + "; ".join(stand_ins) if stand_ins else "")


def _sourced(
    name: str, designation: str, parts: Mapping[str, float], facts: Facts
) -> Sourced[str] | Sourced[float]:
    stated = facts.get(designation, {})
    if name == "composition_source":
        return _composition_source(designation, parts, stated)
    if name == "tolerance" and "tolerance_pct" in stated:
        return stated["tolerance_pct"]
    if name in stated:
        fact = stated[name]
        if name in _NUMBERS:
            return Sourced(float(str(fact.value)), fact.source, fact.mark)
        return fact
    if len(parts) > 1 and name in ("odp", "gwp_ar4", "gwp_ar5", "gwp_ar6"):
        return _by_mass(name, parts, facts)
    if len(parts) > 1 and name == "rcl_ppm":
        return _limit_of_components(parts, facts)
    if len(parts) == 1 and name == "tolerance":
        return Sourced(None, "pure: nothing to tolerate", "unknown")
    return Sourced(None, _UNKNOWN[name], "unknown")


def _composition_source(
    designation: str, parts: Mapping[str, float], stated: Mapping[str, Sourced[str]]
) -> Sourced[str]:
    if len(parts) == 1:
        return Sourced(designation, "pure", "read")
    text = " + ".join(f"{name} {100 * w:g}" for name, w in parts.items())
    predefined = f"predefined blend of CoolProp {eos.version()}, rounded to 0.1 % by mass"
    fact = stated.get("composition_mass_pct")
    if fact is None:
        return Sourced(text, predefined, "read")
    if designation.replace("-", "") not in set(eos.predefined_blends()):
        return Sourced(text, fact.source, fact.mark)
    return Sourced(text, f"{predefined}; agrees with {fact.source} ({fact.mark})", "read")


def _by_mass(name: str, parts: Mapping[str, float], facts: Facts) -> Sourced[float]:
    total = 0.0
    for component, w in parts.items():
        value = _component_value(name, component, facts)
        if value is None:
            return Sourced(None, f"{component} has no figure here", "unknown")
        total += w * value
    return Sourced(float(f"{total:.4g}"), "mass fractions times the components' figures", "computed")


def _limit_of_components(parts: Mapping[str, float], facts: Facts) -> Sourced[float]:
    """Concentration limit of a blend from those of its components by mole fraction [ppm].

    The additivity of ANSI/ASHRAE 34 section 7.1 (from memory) is for toxicity; a component's limit that is a quarter of
    its flammability makes the sum lower than the standard's own, never higher than the oxygen limit.
    """
    composition = from_mass(parts, _MolarMasses())
    total = 0.0
    for name, fraction in zip(composition.components, composition.mole_fractions, strict=True):
        fact = facts.get(name, {}).get("rcl_ppm")
        if fact is None:
            return Sourced(None, f"{name} has no figure here, and the blend none that was read", "unknown")
        total += fraction / float(str(fact.value))
    source = "components' limits by mole fraction, ANSI/ASHRAE 34 section 7.1: lower than the standard's own figure"
    return Sourced(float(f"{min(1.0 / total, _OXYGEN_LIMIT_PPM):.2g}"), source, "computed")


def _component_value(name: str, component: str, facts: Facts) -> float | None:
    fact = facts.get(component, {}).get(name)
    if fact is not None:
        return float(str(fact.value))
    if name != "odp" and FLUIDS[component].family == Family.HC:
        return _DIRECT_GWP_OF_HYDROCARBONS
    if name == "gwp_ar4" and FLUIDS[component].family == Family.HFO:
        # AR4 lists no HFO: the AR5 figure stands in.
        return _component_value("gwp_ar5", component, facts)
    return None
