"""A judge that says what it is told, so that use cases are tested without the verdict engine."""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from service.verdict.instruments.contents import Explanations
from service.verdict.model import (
    BelievedContent,
    Candidate,
    Contamination,
    ContentsState,
    CylinderFacts,
    DetectionLimit,
    Disposition,
    Identity,
    NextMeasurement,
    Pair,
    ReadsTheSame,
    Verdict,
)


@dataclass
class ScriptedJudge:
    """Finds what its attributes say, and remembers what it was asked."""

    designation: str = "R-22"
    identity: str = "identified"
    besides: tuple[str, ...] = ()
    contamination: str = "none-detected"
    contents: str = "two-phase"
    disposition: str = "keep"
    off_k: float = 0.0
    reads_the_same: ReadsTheSame | None = None
    witnesses: list[tuple[Pair, ...]] = field(default_factory=list)
    asked: list[tuple[tuple[Pair, ...], CylinderFacts]] = field(default_factory=list)

    def verdict(
        self,
        pairs: Sequence[Pair],
        facts: CylinderFacts,
        *,
        prior: str = "field",
        explain: bool = False,
        chart: bool = False,
    ) -> Verdict:
        """The scripted verdict."""
        self.asked.append((tuple(pairs), facts))
        return Verdict(
            identity=Identity(
                self.identity,
                (
                    Candidate(self.designation, 0.97, pairs[0].temp_k, -0.1),
                    *(Candidate(name, 0.02, pairs[0].temp_k, 0.1) for name in self.besides),
                ),
            ),
            contamination=Contamination(
                self.contamination,
                {"none": 0.93, "air": 0.04, "shifted": 0.0, "mixed": 0.03},
                None,
                (DetectionLimit("air", None, 21_000.0), DetectionLimit("R-410A", 0.04, None)),
                (),
            ),
            contents_state=ContentsState(
                self.contents, {"two-phase": 0.99, "vapour-only": 0.01, "liquid-full": 0.0}
            ),
            disposition=Disposition(
                self.disposition, f"{self.disposition.capitalize()} it.", {self.disposition: 0.1}
            ),
            reasons=("It fits.",),
            next_measurement=NextMeasurement("warm it to 35 °C", "warm", 308.15, 0.4),
            cautions=("Purity is proven by laboratory analysis alone.",),
            model_version="scripted",
            believed=self._believed(),
            reads_the_same=self.reads_the_same,
        )

    def explanations(self, pair: Pair, facts: CylinderFacts, others: Sequence[Pair] = ()) -> Explanations:
        """The contents would have the reading off by `off_k`; a label, a result or another set vouches for them."""
        self.witnesses.append(tuple(others))
        sure = 0.9 if facts.claimed_designation else 0.0
        if facts.observations.compositions or others:
            sure = 0.98
        return Explanations(
            designation=np.array([0]),
            weight=np.array([sure]),
            residual=np.array([-0.027 * self.off_k]),
            variance=np.array([1e-6]),
            slope_per_k=np.array([0.027]),
            unexplained=(1 - sure) / 0.65,
            pressure_pa=pair.pressure_pa,
        )

    def _believed(self) -> tuple[BelievedContent, ...]:
        """A posterior that says the same as the findings."""
        shares = [0.97, *(0.02 for _ in self.besides)]
        if self.identity == "narrowed":
            shares = [1.0 / (1 + len(self.besides))] * (1 + len(self.besides)) if self.besides else [0.6]
        if self.identity == "unrecognised":
            shares = [0.1, *(0.01 for _ in self.besides)]
        main = {"none-detected": "none", "undecided": "none"}.get(self.contamination, self.contamination)
        wet = 1.0 if self.contents == "two-phase" else 0.9 if main == "mixed" else 0.0

        def content(name: str, share: float) -> BelievedContent:
            states = {main: wet * share, **({} if wet == 1.0 else {self.contents: (1.0 - wet) * share})}
            partners = {"R-404A": wet * share} if main == "mixed" else {}
            return BelievedContent(name, {k: p for k, p in states.items() if p > 0.0}, partners)

        names = (self.designation, *self.besides)
        return tuple(content(name, share) for name, share in zip(names, shares, strict=True))
