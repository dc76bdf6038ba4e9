"""What is kept as JSON of the equipment that refrigerant comes from or goes to."""

from collections.abc import Mapping
from typing import Any, TypedDict


class Equipment(TypedDict, total=False):
    """What refrigerant comes from or goes to, named as people name it; its charge [kg]."""

    owner: str
    location: str
    appliance: str
    circuit: str
    charge_kg: float
    same_owner: bool


class StandingFound(TypedDict):
    """What was read at standing equipment [K], [Pa], and the stored verdict on it."""

    temp_k: float
    pressure_pa: float
    nameplate: str | None
    verdict: Mapping[str, Any]
