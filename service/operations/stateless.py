"""The use case of a verdict without a cylinder: everything it needs comes with the question."""

from dataclasses import dataclass, field

from service.cylinders.water import water_volume_m3
from service.operations.atmosphere import PressureReading, absolute
from service.operations.context import Services
from service.operations.cylinders import designation
from service.operations.errors import FieldError, Invalid
from service.operations.observing import Seen, observations_of
from service.operations.verdicts import judge
from service.verdict.model import CylinderFacts, Pair, Verdict


@dataclass(frozen=True, slots=True)
class Reading:
    """One pair as read; uncertainties not stated come from the settings [K], [Pa]."""

    temp_k: float
    pressure: PressureReading
    temp_noise_k: float | None = None
    pressure_noise_pa: float | None = None
    temp_bias_k: float | None = None
    pressure_bias_pa: float | None = None
    temperature_device: str | None = None
    pressure_device: str | None = None


@dataclass(frozen=True, slots=True)
class Question:
    """Readings of one cylinder's contents, and what is known of it [kg]."""

    readings: tuple[Reading, ...]
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
        net_mass_kg=question.net_mass_kg or None,
        claimed_designation=designation(services, claimed) if claimed else None,
        observations=observations_of(services, question.seen, capacity, "observations."),
        provenance=question.provenance,
    )
    return judge(services, evidence, facts, prior=question.prior, explain=explain, chart=chart)


def _pair(services: Services, position: int, reading: Reading) -> Pair:
    usual = services.policy.instruments
    pressure = absolute(reading.pressure, services.policy.default_elevation_m)
    if pressure.pressure_pa <= 0:
        where = f"pairs.{position}.gauge_pressure_kpa"
        raise Invalid(FieldError(where, (reading.pressure.gauge_pa or 0) / 1000, "above the local vacuum"))
    return Pair(
        temp_k=reading.temp_k,
        pressure_pa=pressure.pressure_pa,
        temp_noise_k=_or(reading.temp_noise_k, usual.temperature_k),
        pressure_noise_pa=_or(reading.pressure_noise_pa, usual.pressure_pa),
        temp_bias_k=_or(reading.temp_bias_k, usual.temperature_bias_k),
        pressure_bias_pa=_or(reading.pressure_bias_pa, usual.pressure_bias_pa),
        atmosphere_bias_pa=pressure.atmosphere.uncertainty_pa if pressure.atmosphere else 0.0,
        temperature_device=reading.temperature_device,
        pressure_device=reading.pressure_device,
    )


def _or(stated: float | None, usual: float) -> float:
    return usual if stated is None else stated
