"""What goes into a verdict and what comes out, in SI; the API turns units and writes the JSON."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from service.codes import ContaminationState, ContentsFinding
from service.verdict.observations import Observations

CONTAMINATIONS: tuple[str, ...] = tuple(ContaminationState)
"""What may be with a refrigerant, in the order of the tables: nothing, air, vapor lost, another refrigerant."""
CONTENTS_STATES: tuple[str, ...] = (
    ContentsFinding.TWO_PHASE,
    ContentsFinding.VAPOR_ONLY,
    ContentsFinding.LIQUID_FULL,
)
"""What may be in the cylinder: liquid with vapor, vapor alone, liquid up to the top."""


@dataclass(frozen=True, slots=True)
class Pair:
    """A temperature and an absolute pressure of one settled state, with standard uncertainties (k = 1).

    Parameters
    ----------
    temp_k : float
        Temperature of the liquid as read [K].
    pressure_pa : float
        Absolute pressure [Pa].
    temp_noise_k, pressure_noise_pa : float
        What this settled state leaves open: noise, resolution, residual drift and lag [K], [Pa].
    temp_bias_k, pressure_bias_pa : float
        Calibration of the thermometer and zero of the gauge, shared by all pairs of one device [K], [Pa].
    gain_bias : float
        Relative gain error of the gauge, shared by all its pairs [-].
    atmosphere_bias_pa, atmosphere_pa : float, float or None
        Uncertainty of the air's pressure that a gauge was against, shared by all pairs, and that; none if absolute.
    temperature_device, pressure_device : str or None
        Names; pairs without a name are taken to come from one and the same instrument.
    """

    temp_k: float
    pressure_pa: float
    temp_noise_k: float
    pressure_noise_pa: float
    temp_bias_k: float = 0.0
    pressure_bias_pa: float = 0.0
    gain_bias: float = 0.0
    atmosphere_bias_pa: float = 0.0
    temperature_device: str | None = None
    pressure_device: str | None = None
    atmosphere_pa: float | None = None


@dataclass(frozen=True, slots=True)
class BelievedContent:
    """One designation that the contents may be, with how likely it is in each state.

    Parameters
    ----------
    designation : str
        The main refrigerant.
    states : Mapping[str, float]
        Joint probability with each state: none, air, shifted, mixed, vapour-only, liquid-full [-].
    partners : Mapping[str, float]
        Of ``mixed``: joint probability by second refrigerant [-].
    """

    designation: str
    states: Mapping[str, float]
    partners: Mapping[str, float] = field(default_factory=dict)

    @property
    def probability(self) -> float:
        """Over all states [-]."""
        return sum(self.states.values())


@dataclass(frozen=True, slots=True)
class CylinderFacts:
    """What is known of the cylinder apart from the pairs; everything may be unknown.

    Parameters
    ----------
    water_volume_m3 : float or None
        Water capacity as a volume [m3].
    net_mass_kg : float or None
        Mass of the contents [kg].
    claimed_designation : str or None
        What the label says.
    claim_reliability : float or None
        How often such labels are right, 0 to 1 [-]; None takes the priors' own figure.
    history : Mapping[str, int]
        How often this owner's cylinders turned out to hold each designation.
    recorded_contents : Mapping[str, float]
        Net mass per designation put in since the cylinder was last empty, by the records [kg].
    vapour_lost_fraction : float or None
        Share of the charge drawn off as vapor since then, by the records [-]; shifts a blend.
    carried : tuple of BelievedContent
        What was believed of the contents before these pairs, from earlier readings. It already rests on label
        and records, so it takes their place.
    observations : Observations
        Combustible gas, measured compositions.
    provenance : str
        ``maker`` (a maker's sealed container), ``records`` (own, without a gap) or ``unknown``.
    """

    water_volume_m3: float | None = None
    net_mass_kg: float | None = None
    claimed_designation: str | None = None
    claim_reliability: float | None = None
    history: Mapping[str, int] = field(default_factory=dict)
    recorded_contents: Mapping[str, float] = field(default_factory=dict)
    vapour_lost_fraction: float | None = None
    carried: tuple[BelievedContent, ...] = ()
    observations: Observations = field(default_factory=Observations)
    provenance: str = "unknown"


@dataclass(frozen=True, slots=True)
class Candidate:
    """One designation of the 95 % set, with how far the first pair lies from its own clean curve.

    Parameters
    ----------
    designation : str
        The refrigerant.
    probability : float
        Over all states [-].
    saturation_temp_k, temp_difference_k : float or None
        Where its clean curve meets the first pair, and the reading less that [K].
    states : Mapping[str, float]
        none, air, shifted, mixed, vapour-only, liquid-full: what `probability` is made of [-].
    """

    designation: str
    probability: float
    saturation_temp_k: float | None
    temp_difference_k: float | None
    states: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Identity:
    """`identified`, `narrowed` or `unrecognised`, and the smallest set that holds 95 %."""

    finding: str
    candidates: tuple[Candidate, ...]


@dataclass(frozen=True, slots=True)
class AirEstimate:
    """Air, given that there is air: 95 % interval, share of the vapor, mass with what is dissolved.

    `excess_share` is over the reclaim standard's limit; None for low-pressure refrigerants, which have none.
    """

    partial_pressure_pa: float
    partial_pressure_low_pa: float
    partial_pressure_high_pa: float
    vapour_volume_share: float
    vapour_volume_share_low: float
    vapour_volume_share_high: float
    excess_share: float | None
    mass_kg: float | None
    dissolved_fraction: float


@dataclass(frozen=True, slots=True)
class DetectionLimit:
    """The smallest amount of one contaminant that this evidence would have shown; None: it cannot be seen.

    `mass_fraction` [-] for another refrigerant, `partial_pressure_pa` [Pa] for air. `note` says in words
    what pressure cannot see.
    """

    contaminant: str
    mass_fraction: float | None
    partial_pressure_pa: float | None
    note: str | None = None


@dataclass(frozen=True, slots=True)
class MixturePartner:
    """One possible second refrigerant, with its probability [-] and the share that would explain the reading [-]."""

    designation: str
    contaminant: str
    probability: float
    mass_fraction: float


@dataclass(frozen=True, slots=True)
class Contamination:
    """What besides one refrigerant is in it, over all identities; probabilities [-]."""

    finding: str
    probabilities: Mapping[str, float]
    air: AirEstimate | None
    detection_limits: tuple[DetectionLimit, ...]
    partners: tuple[MixturePartner, ...]

    @property
    def air_partial_pressure_pa(self) -> float | None:
        """Partial pressure of air at 25 °C where air is the finding [Pa]."""
        return None if self.air is None else self.air.partial_pressure_pa


@dataclass(frozen=True, slots=True)
class ContentsState:
    """Whether there is liquid under vapor, vapor alone or liquid alone; probabilities [-]."""

    finding: str
    probabilities: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Claim:
    """The label against the readings: `supported`, `possible` or `contradicted`.

    Parameters
    ----------
    designation, finding : str
        What the label says, and how it stands. A contradicted label is outside the 95 % set of the readings.
    probability, clean : float
        That the cylinder holds it, in any state, and that it holds it with nothing else in it [-].
    """

    designation: str
    finding: str
    probability: float
    clean: float


@dataclass(frozen=True, slots=True)
class LookAlike:
    """One content that reads the same: mass fractions of designations [-]."""

    mass_fractions: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class LookAlikeGroup:
    """Contents of one hazard that read the same.

    `count` combinations of designations, some of them as examples, each by the composition that fits best.
    """

    hazard: str
    count: int
    examples: tuple[LookAlike, ...]
    told_by: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ReadsTheSame:
    """What else the readings of a designation agree with, the worst hazard first.

    `loud`: nobody vouches for where the cylinder comes from, and something more hazardous is not excluded.
    """

    designation: str
    loud: bool
    groups: tuple[LookAlikeGroup, ...]


@dataclass(frozen=True, slots=True)
class Findings:
    """All findings of one verdict; what is advised and written follows from these alone.

    `unexplained_gas`: combustible gas found that the likeliest contents do not explain; `empty`: air alone fits best.
    """

    identity: Identity
    contamination: Contamination
    contents_state: ContentsState
    claim: Claim | None
    unexplained_gas: bool = False
    reads_the_same: ReadsTheSame | None = None
    empty: bool = False


@dataclass(frozen=True, slots=True)
class Disposition:
    """What to do with the cylinder, and what each choice is expected to cost, in the price of a measurement [-]."""

    code: str
    text: str
    expected_costs: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Alternative:
    """
    Another measurement: its code, what to do in words, at which temperature [K], what it may tell [bit] and save.

    `expected_cost_saved` is in the price of one more measurement.
    """

    code: str
    action: str
    temp_k: float | None
    expected_information_bits: float
    expected_cost_saved: float = 0.0


@dataclass(frozen=True, slots=True)
class NextMeasurement:
    """The one more measurement that is expected to save most [-], less what it takes; as `Alternative`."""

    action: str
    code: str
    temp_k: float | None
    expected_information_bits: float
    alternatives: tuple[Alternative, ...] = ()
    expected_cost_saved: float = 0.0


@dataclass(frozen=True, slots=True)
class Term:
    """One hypothesis spelled out: prior, posterior and ln of likelihood [-], residual per pair [K]."""

    designation: str
    state: str
    detail: str
    prior: float
    log_likelihood: float
    posterior: float
    residuals_k: tuple[float, ...]
    log_likelihood_per_pair: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Explanation:
    """Every prior used [-] and the leading terms of the posterior."""

    prior_kind: str
    prior_source: str
    designation_priors: Mapping[str, float]
    state_priors: Mapping[str, float]
    terms: tuple[Term, ...]
    hypotheses: int


@dataclass(frozen=True, slots=True)
class Curve:
    """A curve to draw: temperatures [K], pressures with a one-sigma band [Pa]."""

    label: str
    kind: str
    designation: str
    probability: float
    temp_k: tuple[float, ...]
    pressure_pa: tuple[float, ...]
    low_pa: tuple[float, ...]
    high_pa: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Ellipse:
    """One pair with its 95 % ellipse in the T, P plane: centre, covariance and outline."""

    temp_k: float
    pressure_pa: float
    temp_sd_k: float
    pressure_sd_pa: float
    outline_temp_k: tuple[float, ...]
    outline_pressure_pa: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Chart:
    """What is needed to draw a verdict."""

    curves: tuple[Curve, ...]
    pairs: tuple[Ellipse, ...]


@dataclass(frozen=True, slots=True)
class Verdict:
    """What the pairs say, what they could not have seen, what to do and what to measure next.

    ``believed`` is the whole posterior but for designations of no weight; what is left to one is something else.
    """

    identity: Identity
    contamination: Contamination
    contents_state: ContentsState
    disposition: Disposition
    reasons: tuple[str, ...]
    next_measurement: NextMeasurement
    cautions: tuple[str, ...]
    model_version: str
    believed: tuple[BelievedContent, ...] = ()
    claim: Claim | None = None
    reads_the_same: ReadsTheSame | None = None
    explain: Explanation | None = None
    chart: Chart | None = None
