"""How far the modelled pressure of a designation, or of a mixture of two, can be trusted.

One sigma as a fraction of absolute pressure. Every figure is a row of ``data/uncertainty.csv``, which
``python -m tests.benchmarks.measured_uncertainty`` makes from measured pressures and from what was stated before
anything was measured (``data/stated_uncertainty.csv``). Here is only how the rows combine; the tolerance that the
standard allows the maker adds 0.3 to 1 %.
"""

import csv
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import combinations
from math import hypot

from service.refrigerants.composition import Composition
from service.refrigerants.fluids import FLUIDS, Family
from service.refrigerants.pair_remedies import REPLACED, Remedy, remedy_for

Figure = tuple[float, str]
"""Relative uncertainty [-] and where it comes from."""

SPARSE = frozenset(("R-23", "R-161", "R-245fa"))
"""Fluids whose pairs with other HFC the equation of state has from few data or none."""
_WIDE_GLIDE = 0.15
"""ln of bubble over dew pressure from which on a blend has the full tolerance of a wide glide (a choice) [-]."""


def stand_in(first: str, second: str, *, shipped: bool) -> Remedy | None:
    """Say which remedy a pair carries; none where the shipped pair is used."""
    replaced = REPLACED.get(frozenset((first, second)))
    if replaced is not None:
        return replaced
    return None if shipped else remedy_for(first, second)


def family_class(components: Iterable[str]) -> str:
    """Class of a blend or a shipped pair, by which its uncertainty goes where it was not measured."""
    names = frozenset(components)
    families = {FLUIDS[name].family for name in names}
    if Family.HCFC in families and names & {"R-124", "R-125"}:
        return "HCFC with R-124 or R-125"
    if families & {Family.HC, Family.ETHER, Family.OTHER}:
        return "hydrocarbon, ether or other"
    if Family.HFO in families:
        return "HFO"
    return "HFC" if families == {Family.HFC} else "CFC, HCFC or PFC"


def pair_class(first: str, second: str, remedy: Remedy | None) -> str:
    """Class of a binary pair: how its model came about, then its families."""
    if remedy is not None and remedy.kind == "family":
        return "guessed"
    names, families = {first, second}, {FLUIDS[first].family, FLUIDS[second].family}
    if families == {Family.HFC} and names & SPARSE:
        return "HFC with R-23, R-161 or R-245fa"
    return family_class(names)


@dataclass(frozen=True, slots=True)
class Uncertainties:
    """The figures, by what they are of.

    Parameters
    ----------
    fluids, blends, pairs, classes, designations, wholes : Mapping
        Pure fluids; floors of blends by `family_class`; binary pairs that were measured; pairs that were not, by
        `pair_class`; designations for which the equation of state itself looks wrong; blends that were themselves
        compared with published pressures, so that their pairs cannot be further off than that.
    """

    fluids: Mapping[str, Figure]
    blends: Mapping[str, Figure]
    pairs: Mapping[frozenset[str], Figure]
    classes: Mapping[str, Figure]
    designations: Mapping[str, Figure]
    wholes: Mapping[str, Figure]

    @classmethod
    def from_csv(cls, text: str) -> "Uncertainties":
        """Read ``kind,subject,relative_uncertainty,mark,papers,points,reason,source`` rows."""
        by_kind: dict[str, dict[str, Figure]] = {}
        for row in csv.DictReader(text.splitlines()):
            figure = (float(row["relative_uncertainty"]), row["reason"])
            by_kind.setdefault(row["kind"], {})[row["subject"]] = figure
        return cls(
            by_kind["fluid"],
            by_kind["blend"],
            {frozenset(name.split("+")): figure for name, figure in by_kind.get("pair", {}).items()},
            by_kind["class"],
            by_kind["designation"],
            by_kind.get("whole", {}),
        )

    def fluid(self, name: str) -> Figure:
        """One sigma of a pure fluid's saturation pressure and the reason."""
        return self.fluids.get(name, self.fluids["any"])

    def pair(self, first: str, second: str, remedy: Remedy | None) -> Figure:
        """
        One sigma of a binary's pressure at mid composition, beyond that of its pure ends.

        Parameters
        ----------
        first, second : str
            Designations of the components.
        remedy : Remedy or None
            What stands in for the pair, none for a shipped one.

        Returns
        -------
        tuple[float, str]
            Relative uncertainty [-] and the reason.
        """
        measured = self.pairs.get(frozenset((first, second)))
        if measured is not None:
            return measured[0], f"{first}+{second} {measured[1]}"
        kind = pair_class(first, second, remedy)
        value, reason = self.classes[kind]
        if remedy is None:
            return value, f"shipped pair, {reason}"
        said = f"{first}+{second} {remedy.kind} (gammaT {remedy.gamma_t})"
        if remedy.kind != "family":
            return remedy.relative_uncertainty, said
        return max(value, remedy.relative_uncertainty), said

    def mixing(self, composition: Composition, remedies: Mapping[frozenset[str], Remedy | None]) -> Figure:
        """
        Combine the pairs of a mixture, each weighted by 4 x_i x_j (one at mid composition).

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
            value, reason = self.pair(first, second, remedies[frozenset((first, second))])
            terms.append((value * 4 * shares[first] * shares[second], reason))
        return hypot(*(value for value, _ in terms)), max(terms)[1]

    def designation(
        self,
        designation: str,
        composition: Composition,
        remedies: Mapping[frozenset[str], Remedy | None],
        log_glide: float,
    ) -> Figure:
        """
        One sigma of a designation's saturation pressure and what it is made of.

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
        if composition.is_pure:
            base, reason = self.fluid(composition.components[0])
            return base, f"{reason} {base:.2%}"
        base, reason = self.blends[family_class(composition.components)]
        mixing, dominant = self.mixing(composition, remedies)
        tolerance = 0.003 + 0.007 * min(max(log_glide / _WIDE_GLIDE, 0.0), 1.0)
        suspect, why = self.designations.get(designation, (0.0, ""))
        parts = [f"{reason} {base:.2%}", f"pairs {mixing:.2%} ({dominant})"]
        model = max(base, mixing, suspect)
        if designation in self.wholes and self.wholes[designation][0] < model:
            model, compared = self.wholes[designation]
            parts.append(f"{compared} {model:.2%}")
        parts.append(f"maker's tolerance {tolerance:.2%}")
        return hypot(model, tolerance), "; ".join([*parts, *([f"{why} {suspect:.0%}"] if why else [])])
