"""The equipment that refrigerant comes from: its standing pressure and temperature against its nameplate."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from service.cylinders.judgement.state import Incoming
from service.operations import verdicts
from service.operations.atmosphere import PressureReading, absolute
from service.operations.context import Services
from service.operations.errors import FieldError, Invalid
from service.verdict.document import from_json, to_json
from service.verdict.model import CylinderFacts, Pair


@dataclass(frozen=True, slots=True)
class Standing:
    """
    One reading on standing equipment that has come to rest.

    Parameters
    ----------
    temp_k
        Of the equipment [K].
    pressure
        As read.
    temp_noise_k, pressure_noise_pa, temp_bias_k, pressure_bias_pa
        Standard uncertainties, the settings' where not stated [K], [Pa].
    """

    temp_k: float
    pressure: PressureReading
    temp_noise_k: float | None = None
    pressure_noise_pa: float | None = None
    temp_bias_k: float | None = None
    pressure_bias_pa: float | None = None


def judge(services: Services, standing: Standing, nameplate: str | None) -> dict[str, Any]:
    """
    The verdict on standing equipment, kept with the transfer.

    Raises
    ------
    Invalid
        When no verdict can be built on the reading.
    """
    usual = services.policy.instruments
    pressure = absolute(standing.pressure, services.policy.default_elevation_m)
    if pressure.pressure_pa <= 0.0:
        raise Invalid(
            FieldError("standing.pressure", pressure.pressure_pa / 1e3, "above zero [kPa] absolute")
        )
    pair = Pair(
        temp_k=standing.temp_k,
        pressure_pa=pressure.pressure_pa,
        temp_noise_k=_or(standing.temp_noise_k, usual.temperature_k),
        pressure_noise_pa=_or(standing.pressure_noise_pa, usual.pressure_pa),
        temp_bias_k=_or(standing.temp_bias_k, usual.temperature_bias_k),
        pressure_bias_pa=_or(standing.pressure_bias_pa, usual.pressure_bias_pa),
        atmosphere_bias_pa=pressure.atmosphere.uncertainty_pa if pressure.atmosphere else 0.0,
    )
    verdict = verdicts.judge(services, [pair], CylinderFacts(claimed_designation=nameplate))
    return {
        "temp_k": pair.temp_k,
        "pressure_pa": pair.pressure_pa,
        "nameplate": nameplate,
        "verdict": to_json(verdict),
    }


def new_owner(equipment: Mapping[str, Any] | None) -> str | None:
    """Who owns the equipment that refrigerant goes into, where that is not the owner it came from."""
    if not equipment or equipment.get("same_owner") is not False:
        return None
    return str(equipment.get("owner") or "another owner")


def incoming(designation: str | None, mass_kg: float, standing: Mapping[str, Any] | None) -> Incoming:
    """What is to come out of equipment [kg], with what a check of it left open and how likely its nameplate is."""
    if standing is None:
        return Incoming(designation, mass_kg)
    found = from_json(standing["verdict"]).identity.candidates
    names = tuple(one.designation for one in sorted(found, key=lambda one: -one.probability))
    share = sum(one.probability for one in found if one.designation == designation)
    return Incoming(designation, mass_kg, names, nameplate_share=share)


def _or(stated: float | None, usual: float) -> float:
    return usual if stated is None else stated
