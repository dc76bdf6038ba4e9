"""The use case of a verdict without a cylinder: everything it needs comes with the question."""

from dataclasses import dataclass, field

from service.cylinders.water_capacity import water_volume_m3
from service.operations.cylinders import designation
from service.operations.observing import Seen, observations_of
from service.operations.support.context import Services
from service.operations.support.errors import FieldError, Invalid
from service.operations.support.readings import BelowVacuum, Reading, settled
from service.operations.verdicts import judge
from service.units import kpa_from_pa
from service.verdict.model import CylinderFacts, Pair, Verdict


@dataclass(frozen=True, slots=True)
class Evidence(Reading):
    """One pair as read, with the names of its instruments; pairs that name none are taken to share one."""

    temperature_device: str | None = None
    pressure_device: str | None = None


@dataclass(frozen=True, slots=True)
class Question:
    """Readings of one cylinder's contents, and what is known of it [kg]."""

    readings: tuple[Evidence, ...]
    claimed_designation: str | None = None
    water_capacity_kg: float | None = None
    net_mass_kg: float | None = None
    prior: str = "field"
    provenance: str = "unknown"
    seen: Seen = field(default_factory=Seen)


def judge_question(services: Services, question: Question, *, explain: bool, chart: bool) -> Verdict:
    """
    What the readings say; nothing is stored.

    Raises
    ------
    Invalid
        When a value makes no sense.
    """
    evidence = [_pair(services, position, reading) for position, reading in enumerate(question.readings)]
    capacity, claimed = question.water_capacity_kg, question.claimed_designation
    facts = CylinderFacts(
        water_volume_m3=None if capacity is None else water_volume_m3(capacity),
        net_mass_kg=question.net_mass_kg,
        claimed_designation=designation(services, claimed) if claimed else None,
        observations=observations_of(services, question.seen, capacity, "observations."),
        provenance=question.provenance,
    )
    return judge(services, evidence, facts, prior=question.prior, explain=explain, chart=chart)


def _pair(services: Services, position: int, reading: Evidence) -> Pair:
    policy = services.policy
    try:
        return settled(
            reading,
            policy.instruments,
            policy.default_elevation_m,
            temperature_device=reading.temperature_device,
            pressure_device=reading.pressure_device,
        ).pair
    except BelowVacuum as error:
        where, gauge_pa = f"pairs.{position}.gauge_pressure_kpa", reading.pressure.gauge_pa or 0
        raise Invalid(FieldError(where, kpa_from_pa(gauge_pa), "above the local vacuum")) from error
