"""The verdict from pairs and facts: the one entry to this package."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from service.codes import IdentityFinding
from service.refrigerants.catalogue import Refrigerant
from service.refrigerants.curves import SaturationCurves
from service.refrigerants.look_alikes import LookAlikes
from service.refrigerants.surfaces import Surfaces
from service.verdict import (
    believed,
    cautions,
    claim,
    contamination,
    detection,
    detection_test,
    disposition,
    evidence,
    identity,
    next_measurement,
    observed,
    posterior,
    reads_the_same,
    reasons,
)
from service.verdict.chart import draw
from service.verdict.closed_cylinder import ChargeBook
from service.verdict.explain import explain as explanation
from service.verdict.filling import FillBook, overall_density
from service.verdict.hypotheses import build_space
from service.verdict.look_alike_book import LookAlikeBook
from service.verdict.merge_replicates import condense
from service.verdict.model import CylinderFacts, DetectionLimit, Findings, Identity, Pair, Verdict
from service.verdict.observing import ObservationBook
from service.verdict.priors import Prevalence, PriorBook, field_weights
from service.verdict.row_groups import RowGroups
from service.verdict.settings import VerdictSettings
from service.verdict.single_phase import SinglePhaseBook

MODEL_VERSION = "verdict-1"
"""Version of the inference, which each verdict carries beside that of the tables."""
UNKNOWN = CylinderFacts()
"""A cylinder of which nothing is known."""


class VerdictEngine:
    """
    Weighs everything a cylinder may hold against its pairs.

    Parameters
    ----------
    curves, surfaces
        The tabulated saturation curves and deviations.
    catalogue
        Refrigerants by designation, for cautions.
    prevalence
        The region's priors.
    settings
        Thresholds and costs.
    look_alikes
        Counterfeits and retrofits that may stand in for a refrigerant.
    tables_version
        Version of the tables, told in every verdict.
    """

    def __init__(
        self,
        curves: SaturationCurves,
        surfaces: Surfaces,
        catalogue: Mapping[str, Refrigerant],
        prevalence: Prevalence,
        settings: VerdictSettings | None = None,
        *,
        look_alikes: LookAlikes | None = None,
        tables_version: str = "unversioned",
    ) -> None:
        self.settings = settings if settings is not None else VerdictSettings()
        self.catalogue = catalogue
        charges = ChargeBook(curves, surfaces)
        field = field_weights(prevalence, curves.designations)
        seconds = [curves.index(name) for name in surfaces.contaminants]
        self.space = build_space(curves, surfaces, charges, field[seconds])
        self.groups = RowGroups(self.space)
        self.single = SinglePhaseBook(curves, charges, surfaces.dense, self.space.fill)
        self.fill = FillBook(charges, self.space, self.single)
        self.book = PriorBook(
            prevalence,
            self.space.designations,
            self.space.contaminants,
            self.space.blocks["shifted"].possible,
            self.space.blocks["mixed"].possible,
        )
        self.observed = ObservationBook(self.space, catalogue, field, charges)
        self.look_alikes = LookAlikeBook(self.space, curves, catalogue, look_alikes)
        self.model_version = f"{MODEL_VERSION}/{tables_version}"

    def infer(
        self, pairs: Sequence[Pair], facts: CylinderFacts = UNKNOWN, *, prior: str = "field"
    ) -> posterior.Posterior:
        """
        The posterior alone.

        Parameters
        ----------
        pairs
            At least one.
        facts
            What is known of the cylinder.
        prior
            ``field`` or ``flat``.

        Returns
        -------
        Posterior
            Over all hypotheses.

        Raises
        ------
        InvalidEvidence
            Naming field, value and what was expected.
        """
        evidence.check(pairs)
        return posterior.infer(
            self.space,
            self.groups,
            built := evidence.build(condense(pairs)),
            self.book.priors(facts, prior),
            self.fill.weights(facts),
            self.single.evaluate(built),
            self.observed.weights(facts.observations, overall_density(facts)),
        )

    def _limits(self, found: posterior.Posterior, facts: CylinderFacts) -> tuple[DetectionLimit, ...]:
        """Of the likeliest designation; none where there is no liquid or nothing was recognised."""
        if found.unrecognised() or found.two_phase < 0.5 or found.is_dense():
            return ()
        likeliest = int(found.identity.argmax())
        test = detection_test.screen(self.space, found.evidence, self.fill.weights(facts), likeliest)
        return detection.limits(self.space, found.evidence, found.priors, test, self.settings.limits_for)

    def _findings(self, found: posterior.Posterior, facts: CylinderFacts, who: Identity) -> Findings:
        """All that was found, given who it is."""
        space, settings = self.space, self.settings
        label = claim.find(found, space, facts, who, settings)
        return Findings(
            who,
            contamination.find(found, space, facts, self._limits(found, facts), settings),
            contamination.contents_state(found, settings),
            label,
            reads_the_same=reads_the_same.find(found, self.look_alikes, self.single.dense, facts, who, label),
            unexplained_gas=observed.unexplained(found, self.observed, facts.observations),
            empty=found.is_empty(),
        )

    def _observed(self, found: posterior.Posterior, facts: CylinderFacts) -> tuple[str, ...]:
        return observed.write(found, self.observed, facts.observations, overall_density(facts))

    def verdict(
        self,
        pairs: Sequence[Pair],
        facts: CylinderFacts = UNKNOWN,
        *,
        prior: str = "field",
        explain: bool = False,
        chart: bool = False,
    ) -> Verdict:
        """
        What the pairs say.

        Parameters
        ----------
        pairs
            Equilibrium pairs of the current contents epoch, in any order.
        facts
            What is known of the cylinder.
        prior
            ``field``: prevalence, history and label; ``flat``: every designation and contamination alike.
        explain
            Add every prior and the leading terms.
        chart
            Add what is needed to draw it.

        Returns
        -------
        Verdict
            In SI.

        Raises
        ------
        InvalidEvidence
            Naming field, value and what was expected.
        """
        found = self.infer(pairs, facts, prior=prior)
        space, settings = self.space, self.settings
        who = identity.find(found, space, settings)
        following = next_measurement.choose(
            found,
            space,
            condense(pairs),
            facts,
            self.observed,
            settings,
            identified=who.finding == IdentityFinding.IDENTIFIED,
        )
        findings = self._findings(found, facts, who)
        return Verdict(
            identity=who,
            contamination=findings.contamination,
            contents_state=findings.contents_state,
            disposition=disposition.choose(
                found, space, findings, settings, more_to_learn=following.code != "none"
            ),
            reasons=(*self._observed(found, facts), *reasons.write(found, space, findings)),
            next_measurement=following,
            cautions=cautions.write(findings, pairs, self.catalogue),
            model_version=self.model_version,
            believed=believed.find(found, space),
            claim=findings.claim,
            reads_the_same=findings.reads_the_same,
            explain=explanation(found, space, self.book.prevalence) if explain else None,
            chart=draw(found, space) if chart else None,
        )
