"""What is expected before any reading: field prevalence, the owner's history, the label, the states.

The tables are data (`data/prevalence.json`), one per region, with their marks; here is only how they combine.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.codes import PriorKind
from service.verdict.errors import InvalidEvidence
from service.verdict.model import CONTAMINATIONS, BelievedContent, CylinderFacts
from service.verdict.quadrature_grids import LOSS_RANGE

Floats = NDArray[np.float64]

PRIOR_KINDS: tuple[str, ...] = tuple(PriorKind)
"""How the catalogue is weighed before a reading: by what is met in the field, or all alike."""
MAX_RELIABILITY = 0.98
"""No label and no record is trusted further than this, so that decisive evidence always wins (a choice) [-]."""
_STATES = ("none", "air", "mixed", "shifted", "vapour-only", "liquid-full", "something-else")


@dataclass(frozen=True, slots=True)
class Prevalence:
    """One region's table.

    Parameters
    ----------
    region, source, mark : str
        `mark` says how the figures are known: read, memory, computed or inferred.
    weights : Mapping[str, float]
        Relative frequency of each designation in recovery cylinders; any scale.
    other_share : float
        Probability of all designations that the table does not name [-].
    states : Mapping[str, float]
        Frequency of each state; any scale.
    label_reliability, record_reliability : float
        How often a label and a record name what is inside [-].
    history_strength : float
        Pseudo-count of this table against the owner's own counts [-].
    oil_share, several_share : float
        So many of the clean and airy cylinders have oil dissolved that lowers their pressure, and so many of the mixed
        ones hold three refrigerants or more [-].
    """

    region: str
    source: str
    mark: str
    weights: Mapping[str, float]
    other_share: float
    states: Mapping[str, float]
    label_reliability: float
    record_reliability: float
    history_strength: float
    oil_share: float
    several_share: float

    @classmethod
    def from_json(cls, text: str, region: str) -> Prevalence:
        """
        One region of a table file.

        Parameters
        ----------
        text : str
            The file's content.
        region : str
            A key of its `regions`.

        Returns
        -------
        Prevalence
            Checked: every state named, every share a probability.

        Raises
        ------
        ValueError
            Naming the field, its value and what was expected.
        """
        document = json.loads(text)
        regions = document["regions"]
        if region not in regions:
            raise ValueError(f"region: got {region!r}, expected one of {sorted(regions)}")
        states = {name: float(document["states"][name]) for name in _STATES}
        table = cls(
            region=region,
            source=document["source"],
            mark=document["mark"],
            weights={name: float(w) for name, w in regions[region]["weights"].items()},
            other_share=float(document["other_share"]),
            states=states,
            label_reliability=float(document["label_reliability"]),
            record_reliability=float(document["record_reliability"]),
            history_strength=float(document["history_strength"]),
            oil_share=float(document["oil_share"]),
            several_share=float(document["several_share"]),
        )
        table._check()
        return table

    def learned(self, counts: Mapping[str, int], designations: int) -> dict[str, tuple[float, float]]:
        """
        What the owner's established cylinders make of the table.

        Parameters
        ----------
        counts : Mapping[str, int]
            Established cylinders by designation.
        designations : int
            How many the catalogue has; those that the table does not name share `other_share`.

        Returns
        -------
        dict
            Share by the table alone and with the counts, for each designation of either, the commonest first [-]: the
            mean of the Dirichlet distribution whose prior weighs as much as `history_strength` cylinders.
        """
        total, seen = sum(self.weights.values()), sum(counts.values())
        rest = self.other_share / max(designations - len(self.weights), 1)
        found = {}
        for name in {**self.weights, **counts}:
            table = (1 - self.other_share) * self.weights[name] / total if name in self.weights else rest
            share = (counts.get(name, 0) + self.history_strength * table) / (seen + self.history_strength)
            found[name] = (table, share)
        return dict(sorted(found.items(), key=lambda item: (-item[1][1], item[0])))

    def _check(self) -> None:
        for name, value in {**self.weights, **self.states}.items():
            if not value > 0:
                raise ValueError(f"{name}: got {value!r}, expected a positive frequency")
        for name in ("other_share", "label_reliability", "record_reliability", "oil_share", "several_share"):
            value = getattr(self, name)
            if not 0 < value < 1:
                raise ValueError(f"{name}: got {value!r}, expected a probability between 0 and 1")


CARRIED_TRUST = 0.9
"""So much weight has what earlier readings left, against what is met in the field (a judgement) [-]. Not all of it:
the instruments that those readings came from may be the ones that are read now."""
NO_REFRIGERANT = 1.0
"""Cylinders with air or nitrogen alone, over those with something else outside the catalogue (a judgement) [-]."""
RECORDED_SHIFT = 0.9
"""So much of what would be one blend alone is taken for shifted once vapor was drawn off it (a judgement) [-]."""


@dataclass(frozen=True, slots=True)
class Priors:
    """Priors of one verdict.

    Parameters
    ----------
    kind : str
        `field` or `flat`.
    designation : ndarray[n]
        Sums to one [-].
    partner : ndarray[n, n_s]
        Second refrigerant given the first; rows sum to one where any partner exists [-].
    states : ndarray[n, 6]
        none, air, mixed, shifted, vapour-only, liquid-full given the designation; rows sum to one [-].
    something_else : float
        Before everything else [-].
    vapour_lost : float or None
        Share of the charge recorded as drawn off as vapor [-]; None where nothing is recorded.
    oil, several : float
        Share of the clean and airy ones with dissolved oil, and of the mixed ones with three or more [-].
    """

    kind: str
    designation: Floats
    partner: Floats
    states: Floats
    something_else: float
    vapour_lost: float | None = None
    oil: float = 0.0
    several: float = 0.0

    def state(self, name: str) -> Floats:
        """Probability [n] of one state given the designation [-]."""
        return np.asarray(self.states[:, _STATES.index(name)])

    def rows(self, block: str) -> Floats:
        """Probability [n] of one block of the hypotheses given the designation [-]."""
        told, share = {
            "none": ("none", 1.0 - self.oil),
            "oily": ("none", self.oil),
            "air": ("air", 1.0 - self.oil),
            "oily-air": ("air", self.oil),
            "mixed": ("mixed", 1.0 - self.several),
            "several": ("mixed", self.several),
        }.get(block, (block, 1.0))
        return share * self.state(told)


def field_weights(prevalence: Prevalence, designations: Sequence[str]) -> Floats:
    """How often each designation [n] is met by the region's table [-]; sums to one."""
    named = np.array([prevalence.weights.get(name, 0.0) for name in designations])
    rest = (named == 0).astype(float)
    share = prevalence.other_share if rest.any() else 0.0
    return np.asarray((1 - share) * named / named.sum() + share * rest / max(rest.sum(), 1.0))


class PriorBook:
    """Combines a region's table with what is known of one cylinder."""

    def __init__(
        self,
        prevalence: Prevalence,
        designations: Sequence[str],
        contaminants: Sequence[str],
        can_shift: NDArray[np.bool_],
        can_mix: NDArray[np.bool_],
    ) -> None:
        self.prevalence = prevalence
        self.designations = tuple(designations)
        self._at = {name: i for i, name in enumerate(designations)}
        self._second = np.array([self._at[name] for name in contaminants], dtype=np.intp)
        self._can_shift, self._can_mix = can_shift, can_mix
        self._field = field_weights(prevalence, designations)

    def priors(self, facts: CylinderFacts, kind: str) -> Priors:
        """
        Priors for one cylinder.

        Parameters
        ----------
        facts : CylinderFacts
            Label, records and the owner's history.
        kind : str
            `field`, or `flat`: every designation, partner and contamination alike, no label, no history.

        Returns
        -------
        Priors
            Normalised.

        Raises
        ------
        InvalidEvidence
            For an unknown kind, or a designation that is not in the catalogue.
        """
        if kind not in PRIOR_KINDS:
            raise InvalidEvidence("prior", kind, " or ".join(PRIOR_KINDS))
        flat = kind == "flat"
        lost = None if flat else _vapour_lost(facts)
        uniform = np.full(len(self.designations), 1.0 / len(self.designations))
        general = uniform if flat else self._with_history(facts.history)
        partner, states = self._partners(general, facts, flat), self._states(flat, lost)
        designation = uniform if flat else self._with_claims(general, facts)
        if facts.carried and not flat:
            designation = self._with_carried(general, facts.carried)
            self._carry_states(facts.carried, partner, states)
        return Priors(
            kind=kind,
            designation=designation,
            partner=partner,
            states=states,
            something_else=self.prevalence.states["something-else"],
            vapour_lost=lost,
            # A maker's container was never in a compressor.
            oil=0.0 if facts.provenance == "maker" and not flat else self.prevalence.oil_share,
            several=self.prevalence.several_share,
        )

    def _index(self, field: str, designation: str) -> int:
        if designation not in self._at:
            raise InvalidEvidence(field, designation, "a designation of the catalogue, such as R-410A")
        return self._at[designation]

    def _with_history(self, history: Mapping[str, int]) -> Floats:
        counts = np.zeros(len(self.designations))
        for name, count in history.items():
            if isinstance(count, bool) or not isinstance(count, int) or count < 0:
                raise InvalidEvidence(f"history.{name}", count, "a count, 0 or more")
            counts[self._index("history", name)] += count
        strength = self.prevalence.history_strength
        return np.asarray((counts + strength * self._field) / (counts.sum() + strength))

    def _with_claims(self, base: Floats, facts: CylinderFacts) -> Floats:
        weights = base.copy()
        if facts.claimed_designation is not None:
            reliability = facts.claim_reliability
            if reliability is None:
                reliability = self.prevalence.label_reliability
            if not 0.0 <= reliability <= 1.0:
                raise InvalidEvidence("claim_reliability", reliability, "a probability from 0 to 1")
            weights *= self._claim("claimed_designation", facts.claimed_designation, base, reliability)
        total = sum(facts.recorded_contents.values())
        if total > 0:
            name = max(facts.recorded_contents, key=lambda key: (facts.recorded_contents[key], key))
            weights *= self._claim("recorded_contents", name, base, self.prevalence.record_reliability)
        return np.asarray(weights / weights.sum())

    def _with_carried(self, base: Floats, carried: Sequence[BelievedContent]) -> Floats:
        """Designations [n] as earlier readings left them, as far as those named any."""
        believed = np.zeros(base.size)
        for one in carried:
            if not 0.0 <= one.probability <= 1.0 + 1e-6:
                raise InvalidEvidence(f"carried.{one.designation}", one.probability, "a probability, 0 to 1")
            believed[self._index("carried", one.designation)] += one.probability
        named = min(1.0, float(believed.sum()))
        trust = CARRIED_TRUST * named
        share = believed / believed.sum() if named > 0.0 else base
        return np.asarray((1.0 - trust) * base + trust * share)

    def _carry_states(self, carried: Sequence[BelievedContent], partner: Floats, states: Floats) -> None:
        """Put the contaminations and partners of earlier readings into the rows of their designations, in place.

        Whether there is liquid is not carried: that is what an act on the cylinder changes first.
        """
        of_liquid = [_STATES.index(name) for name in CONTAMINATIONS]
        seconds = {int(at): column for column, at in enumerate(self._second)}
        for one in carried:
            row = self._index("carried", one.designation)
            known = np.array([one.states.get(name, 0.0) for name in CONTAMINATIONS])
            known[states[row, of_liquid] == 0.0] = 0.0
            if known.sum() > 0.0:
                liquid = float(states[row, of_liquid].sum())
                old = states[row, of_liquid]
                states[row, of_liquid] = (
                    1 - CARRIED_TRUST
                ) * old + CARRIED_TRUST * liquid * known / known.sum()
            second = np.zeros(partner.shape[1])
            for name, probability in one.partners.items():
                column = seconds.get(self._index("carried", name))
                if column is not None and partner[row, column] > 0.0:
                    second[column] = probability
            if second.sum() > 0.0:
                partner[row] = (1 - CARRIED_TRUST) * partner[row] + CARRIED_TRUST * second / second.sum()

    def _claim(self, field: str, designation: str, base: Floats, reliability: float) -> Floats:
        """Likelihood [n] of a statement that is right with the given frequency, else drawn from the field."""
        at = self._index(field, designation)
        trusted = min(reliability, MAX_RELIABILITY)
        factor = np.full(base.size, 1.0 - trusted)
        factor[at] += trusted / base[at]
        return factor

    def _partners(self, general: Floats, facts: CylinderFacts, flat: bool) -> Floats:
        second = np.ones(self._second.size) if flat else general[self._second].copy()
        for name in facts.recorded_contents:
            second[self._second == self._index("recorded_contents", name)] += 1.0
        rows = np.where(self._can_mix, second, 0.0)
        return np.asarray(rows / np.maximum(rows.sum(axis=1, keepdims=True), 1e-300))

    def _states(self, flat: bool, lost: float | None) -> Floats:
        frequency = np.array([self.prevalence.states[name] for name in _STATES[:-1]])
        if flat:
            frequency[:4] = frequency[:4].mean()
        rows = np.tile(frequency, (len(self.designations), 1))
        mixed, shifted = _STATES.index("mixed"), _STATES.index("shifted")
        for column, possible in ((shifted, self._can_shift), (mixed, self._can_mix.any(axis=1))):
            rows[~possible, 0] += rows[~possible, column]
            rows[~possible, column] = 0.0
        if lost is not None:
            moved = RECORDED_SHIFT * rows[self._can_shift, 0]
            rows[self._can_shift, 0] -= moved
            rows[self._can_shift, shifted] += moved
        return np.asarray(rows / rows.sum(axis=1, keepdims=True))


def _vapour_lost(facts: CylinderFacts) -> float | None:
    """The recorded share lost as vapor where it is large enough to show."""
    lost = facts.vapour_lost_fraction
    if lost is None:
        return None
    if not 0.0 <= lost <= 1.0:
        raise InvalidEvidence("vapour_lost_fraction", lost, "a share from 0 to 1")
    return lost if lost >= LOSS_RANGE[0] else None
