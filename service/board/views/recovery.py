"""A recovery as a technician reads it at arm's length: the call first, then the weight, then the rest."""

from dataclasses import dataclass
from datetime import datetime

from service.board.quantities import Quantities
from service.cylinders.recovery import HOW_TO_STOP
from service.cylinders.recovery_vacuum import HOLD_MINUTES, IN_HG_PA, held_minutes
from service.operations.recovery_state import Course, Now
from service.store.recoveries import Fill
from service.units import STANDARD_ATMOSPHERE_PA, k_from_c

METHODS = {"liquid": "liquid", "vapour": "vapor", "push-pull": "push-pull"}
CALLS = {
    "stop": ("danger", "STOP"),
    "soon": ("attention", "Get ready to stop"),
    "go": ("clear", "Keep going"),
    "unknown": ("attention", "No scale heard"),
}
WHAT_TO_DO = {
    "stop": "",
    "soon": "Stay at the valve. At the call:",
    "go": "",
    "unknown": "Nobody warns you. Watch the weight yourself and stop at the figure below.",
}
WARM_K = k_from_c(45.0)
COOL = "Cool it: shade, air over it, cool water on the outside. Slow the machine down."


@dataclass(frozen=True, slots=True)
class Calling:
    """The call: how serious, its word, what to do, the weight to stop at, what is seen now, and how far it is [%]."""

    glyph: str
    word: str
    do: str
    stop_at: str
    figures: tuple[str, ...]
    causes: tuple[str, ...]
    others: tuple[str, ...]
    advice: str
    on_scale: str
    share: int


@dataclass(frozen=True, slots=True)
class Turn:
    """One cylinder of the job."""

    serial: str
    state: str
    text: str
    over: str


@dataclass(frozen=True, slots=True)
class Vacuum:
    """What the equipment is drawn down to, how far it is, and how long it held."""

    target: str
    why: str
    source: str
    unread: str
    readings: tuple[tuple[datetime, str], ...]
    held: str


def calling(course: Course, show: Quantities) -> Calling | None:
    """Word the call; None while no cylinder is on."""
    now = course.now
    if now is None:
        return None
    glyph, word = CALLS[now.call.state]
    do = WHAT_TO_DO[now.call.state]
    if now.call.state in ("stop", "soon"):
        do = f"{do} {HOW_TO_STOP[course.recovery.mode]}".strip()
    warm = now.temp_k is not None and now.temp_k >= WARM_K
    return Calling(
        glyph, word, do, show.mass_below(now.call.stop_at_kg), tuple(_figures(now, show)), now.call.causes,
        now.others, COOL if warm else "", show.mass(now.gross_kg) if now.gross_kg is not None else "",
        share_of(now.gross_kg, now.fill.gross_before_kg, now.call.stop_at_kg),
    )  # fmt: skip


def share_of(gross_kg: float | None, before_kg: float | None, stop_at_kg: float) -> int:
    """Say how much of the way from the weight before to the stop is done, 0 to 100 [%]; all masses gross [kg]."""
    if gross_kg is None or before_kg is None or stop_at_kg <= before_kg:
        return 0
    return round(100.0 * min(max((gross_kg - before_kg) / (stop_at_kg - before_kg), 0.0), 1.0))


def _figures(now: Now, show: Quantities) -> list[str]:
    figures = []
    if now.gross_kg is not None:
        figures.append(f"room for {show.mass_below(now.room_kg or 0.0)}")
    if now.rate_kg_s:
        figures.append(f"{show.mass(60.0 * now.rate_kg_s)} a minute")
    if now.call.seconds_left:
        figures.append(f"about {_minutes(now.call.seconds_left)} to the stop")
    if now.temp_k is not None:
        figures.append(f"{show.temperature(now.temp_k)} (never above {_hottest(show)})")
    if now.gauge_pa is not None:
        figures.append(show.gauge(now.gauge_pa))
    return figures


def _hottest(show: Quantities) -> str:
    return "125 °F" if show.inch_pound else "52 °C"


def _minutes(seconds: float) -> str:
    return f"{seconds:.0f} s" if seconds < 90.0 else f"{seconds / 60.0:.0f} min"


def turns(course: Course, show: Quantities) -> tuple[Turn, ...]:
    """Word each cylinder in the order of use."""
    return tuple(
        _turn(fill, takes, show) for fill, takes in zip(course.fills, course.plan.takes_kg, strict=True)
    )


def _turn(fill: Fill, takes_kg: float, show: Quantities) -> Turn:
    over = f"{show.mass(fill.over_kg)} over its limit: it is overfull" if fill.over_kg > 0.0 else ""
    if fill.ended_at is not None:
        text = f"took {show.mass(fill.mass_kg or 0.0)}" if fill.begun_at else "not used"
        return Turn(fill.cylinder, "done", text, over)
    room = f"takes {show.mass_below(fill.room_kg)}, full at {show.mass_below(fill.target_gross_kg)} gross"
    if fill.begun_at is not None:
        return Turn(fill.cylinder, "on", room, over)
    return Turn(fill.cylinder, "next", f"{room}; {show.mass(takes_kg)} expected", over)


def summary(course: Course, show: Quantities) -> str:
    """Say how much is out, of how much, and whether the cylinders will do."""
    out = show.mass(course.recovered_kg)
    if course.recovery.expected_kg is None:
        return f"{out} recovered; nobody knows the charge."
    text = f"{out} of {show.mass(course.recovery.expected_kg)} recovered."
    short = course.plan.short_kg or 0.0
    if course.recovery.ended_at is None and short > 0.01:
        text += f" Another cylinder is needed for {show.mass(short)}."
    return text


def vacuum(course: Course, show: Quantities) -> Vacuum:
    """Word what the equipment has to be drawn down to, and what was read."""
    level, recovery = course.asked.level, course.recovery
    noted = [
        (datetime.fromisoformat(one["at"]), float(one["pressure_pa"]))
        for one in recovery.vacuum_readings or []
    ]
    readings = tuple((at, f"{below(pressure)}, {show.absolute(pressure)}") for at, pressure in noted)
    if level is None:
        return Vacuum("", "", "", course.asked.unread or "", readings, "")
    limit = min(level.pressure_pa, STANDARD_ATMOSPHERE_PA)
    minutes = held_minutes([(at.timestamp(), pressure) for at, pressure in noted], limit)
    held = ""
    if noted and noted[-1][1] > limit + 1.0:
        held = "It is above the level: refrigerant is left. Go on recovering."
    elif noted and minutes < HOLD_MINUTES:
        held = f"Held for {minutes:.0f} min so far; leave the machine off and read again at {HOLD_MINUTES:.0f} min."
    elif noted:
        held = f"Held for {minutes:.0f} min."
    target = f"{below(level.pressure_pa)}, {show.absolute(level.pressure_pa)}"
    source = f"{level.rule.citation}, {level.rule.mark}"
    return Vacuum(target, level.why, source, "", readings, held)


def below(pressure_pa: float) -> str:
    """Write an absolute pressure [Pa] as a vacuum below the standard atmosphere, as the law does."""
    in_hg = (STANDARD_ATMOSPHERE_PA - pressure_pa) / IN_HG_PA
    if abs(in_hg) < 0.05:
        return "0 in Hg vacuum (atmospheric pressure)"
    return f"{in_hg:.1f} in Hg vacuum" if in_hg > 0.0 else f"{-in_hg:.1f} in Hg above the atmosphere"
