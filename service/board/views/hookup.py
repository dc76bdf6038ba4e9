"""A hookup with its last live values."""

from dataclasses import dataclass
from datetime import datetime

from service.board import phrases
from service.board.quantities import SPACE, Quantities
from service.board.views import cards
from service.operations.support.judgements import Judged


@dataclass(frozen=True, slots=True)
class Hooked:
    """The hookup as the page shows it."""

    id: int
    temperature: str
    pressure: str
    state_code: str
    state: str
    detail: str
    at: datetime | None
    reasons: tuple[str, ...]
    pressure_device: str
    temperature_device: str
    valve: str
    since: datetime


def hooked(judged: Judged, show: Quantities) -> Hooked | None:
    """Write the hookup with its last live values."""
    at = judged.attached
    if at is None:
        return None
    said = at.document or {}
    code, words = cards.settling(at)
    details = []
    if said.get("good_to_k") is not None and code != "waiting":
        details.append(f"good to {show.span(said['good_to_k'])}")
    if said.get("battery_percent") is not None:
        details.append(f"battery {said['battery_percent']:.0f}{SPACE}%")
    if said.get("mass_kg") is not None:
        details.append(f"scale {show.mass(said['mass_kg'])}")
    return Hooked(
        id=at.hookup_id,
        temperature=show.temperature(at.temp_k),
        pressure=cards.live_pressure(at, show),
        state_code=code,
        state=words,
        detail=", ".join(details),
        at=at.at,
        reasons=tuple(phrases.remark(str(reason)) for reason in said.get("reasons") or ()),
        pressure_device=at.pressure_device,
        temperature_device=at.temperature_device,
        valve=at.valve,
        since=at.from_at,
    )
