"""The equipment that refrigerant comes from: its standing pressure and temperature against its nameplate."""

from dataclasses import replace

from service.cylinders.judgement.state import Incoming
from service.operations import verdicts
from service.operations.support.context import Services
from service.operations.support.errors import FieldError, Invalid
from service.operations.support.readings import BelowVacuum, Reading, settled
from service.store.equipment import Equipment, StandingFound
from service.units import kpa_from_pa
from service.verdict.document import from_json, to_json
from service.verdict.model import CylinderFacts


def judge(services: Services, at_rest: Reading, nameplate: str | None) -> StandingFound:
    """
    The verdict on equipment at rest, kept with the transfer.

    Raises
    ------
    Invalid
        When no verdict can be built on the reading.
    """
    policy = services.policy
    at_rest = replace(at_rest, conditions=replace(at_rest.conditions, of_equipment=True))
    try:
        pair = settled(at_rest, policy.instruments, policy.default_elevation_m).pair
    except BelowVacuum as error:
        value = kpa_from_pa(error.pressure_pa)
        raise Invalid(FieldError("standing.pressure", value, "above zero [kPa] absolute")) from error
    verdict = verdicts.judge(services, [pair], CylinderFacts(claimed_designation=nameplate))
    return {
        "temp_k": pair.temp_k,
        "pressure_pa": pair.pressure_pa,
        "nameplate": nameplate,
        "verdict": to_json(verdict),
    }


def new_owner(equipment: Equipment | None) -> str | None:
    """Who owns the equipment that refrigerant goes into, where that is not the owner it came from."""
    if not equipment or equipment.get("same_owner") is not False:
        return None
    return equipment.get("owner") or "another owner"


def incoming(designation: str | None, mass_kg: float, checked: StandingFound | None) -> Incoming:
    """What is to come out of equipment [kg], with what a check of it left open and how likely its nameplate is."""
    if checked is None:
        return Incoming(designation, mass_kg)
    found = from_json(checked["verdict"]).identity.candidates
    names = tuple(one.designation for one in sorted(found, key=lambda one: -one.probability))
    share = sum(one.probability for one in found if one.designation == designation)
    return Incoming(designation, mass_kg, names, nameplate_share=share)
