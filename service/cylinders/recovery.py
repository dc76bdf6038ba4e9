"""A recovery out of one piece of equipment: how much goes into which cylinder, and when to call stop.

The room of each cylinder and its dangers are its judgement's; here they are put together over a whole job.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

from service.codes import Severity
from service.cylinders.judgement.causes import Cause, Kind
from service.units import kg_from_lb

State = Literal["go", "soon", "stop", "unknown"]
Method = Literal["liquid", "vapour", "push-pull"]
METHODS: Final = ("liquid", "vapour", "push-pull")
"""Ways to recover. ``push-pull``: the machine draws vapor off the cylinder and pushes liquid out of the equipment
into it."""

RATE_WINDOW_S: Final = 120.0
"""The slope is that of so long before the newest point (a choice) [s]."""
RATE_SPAN_S: Final = 10.0
"""Points closer together than this tell no rate (a choice) [s]."""
LEAD_S: Final = {"liquid": 20.0, "vapour": 20.0, "push-pull": 40.0}
"""From the call until nothing runs in; a push-pull siphons on until both liquid valves are shut (common practice, no
source) [s]."""
SOON_S: Final = 120.0
"""So long before the call somebody is told to get ready (common practice, no source) [s]."""
ASSUMED_RATE_KG_S: Final = {"liquid": 0.075, "vapour": 0.01, "push-pull": 0.15}
"""While nothing was measured: 10 lb/min of liquid, 1.3 of vapor, 20 by push-pull (practice, no source) [kg/s]."""
HOSE_KG: Final = {"liquid": 0.1, "vapour": 0.02, "push-pull": 0.2}
"""What may still run in out of the hose once the machine is off (common practice, no source) [kg]."""
_MACHINE_FIRST: Final = (
    "Switch the recovery machine off, then close the cylinder's valve. Never run it against a closed valve."
)
HOW_TO_STOP: Final = {
    "liquid": _MACHINE_FIRST,
    "vapour": _MACHINE_FIRST,
    "push-pull": "Close both liquid valves, then switch the recovery machine off. Liquid siphons on without it.",
}
"""What the hands do at the call, by method [-]: a machine that runs against a closed valve can burst a hose; what a
push-pull has set going runs on without it (common practice, no source)."""
UNEXPLAINED_SHARE: Final = 0.10
"""Share of the expected mass by which the recovered may differ (common practice, no source) [-]."""
UNEXPLAINED_KG: Final = kg_from_lb(0.5)
"""Mass by which it may differ in any case; the larger of the two holds (common practice, no source) [kg]."""
STOPS: Final = frozenset({Kind.PRESSURE, Kind.LIQUID_FULL, Kind.OVERFULL, Kind.NOT_PERMITTED, Kind.LEAK})
"""Causes for which nothing more goes in, however serious; any critical cause does the same."""


@dataclass(frozen=True, slots=True)
class Plan:
    """
    How an expected charge is shared out.

    Parameters
    ----------
    takes_kg
        What each cylinder takes, in the order given [kg].
    short_kg
        What fits into none of them [kg]; None where nobody knows what to expect.
    """

    takes_kg: tuple[float, ...]
    short_kg: float | None


@dataclass(frozen=True, slots=True)
class Call:
    """
    What to do now.

    Parameters
    ----------
    state
        ``go``, ``soon`` (get ready), ``stop``, or ``unknown`` while no scale is heard: nothing says that it is safe.
    stop_at_kg
        Gross mass at which stop is called [kg].
    seconds_left
        Until then at the present rate [s]; None without a measured rate above zero.
    causes
        What is wrong with the cylinder, in words.
    """

    state: State
    stop_at_kg: float
    seconds_left: float | None
    causes: tuple[str, ...] = ()


def share_out(expected_kg: float | None, rooms_kg: Sequence[float]) -> Plan:
    """
    Fill one cylinder after the other.

    Parameters
    ----------
    expected_kg
        Charge of the equipment [kg]; None where nobody knows, and then every room may be needed.
    rooms_kg
        Room of each cylinder, in the order of use [kg].

    Raises
    ------
    ValueError
        When a mass is negative.
    """
    for name, mass_kg in (("expected_kg", expected_kg or 0.0), *(("rooms_kg", room) for room in rooms_kg)):
        if not mass_kg >= 0.0:
            raise ValueError(f"{name} must be at least 0, got {mass_kg!r}")
    if expected_kg is None:
        return Plan(tuple(rooms_kg), None)
    left, takes = expected_kg, []
    for room in rooms_kg:
        takes.append(min(room, left))
        left -= takes[-1]
    return Plan(tuple(takes), left)


def fill_rate_kg_s(points: Sequence[tuple[float, float]]) -> float | None:
    """
    How fast the mass on the scale grows: the larger of the last two minutes' slope and the last step's.

    A rate that has just risen calls early rather than late.

    Parameters
    ----------
    points
        Time [s] and gross mass [kg], oldest first.

    Returns
    -------
    float or None
        At least zero [kg/s]; None while the points lie within ten seconds.
    """
    recent = [point for point in points if point[0] >= points[-1][0] - RATE_WINDOW_S]
    earlier = [point for point in recent if recent[-1][0] - point[0] >= RATE_SPAN_S]
    if not earlier:
        return None
    return max(0.0, _slope(recent), _slope([earlier[-1], recent[-1]]))


def stop_at_kg(target_gross_kg: float, *, rate_kg_s: float | None, method: str) -> float:
    """
    Gross mass at which stop is called, so that what still runs in stays below the limit [kg].

    Parameters
    ----------
    target_gross_kg
        Gross mass at the filling limit [kg].
    rate_kg_s
        As measured [kg/s]; the trade's fastest for the method is assumed without it.
    method
        ``liquid``, ``vapour`` or ``push-pull``.
    """
    rate = ASSUMED_RATE_KG_S[method] if rate_kg_s is None else rate_kg_s
    return target_gross_kg - rate * LEAD_S[method] - HOSE_KG[method]


def call(
    gross_kg: float | None,
    target_gross_kg: float,
    *,
    rate_kg_s: float | None,
    method: str,
    causes: Sequence[Cause] = (),
) -> Call:
    """
    What to do now, by the weight on the scale and what is wrong with the cylinder.

    Parameters
    ----------
    gross_kg
        On the scale now [kg]; None while none is heard.
    target_gross_kg
        Gross mass at the filling limit [kg].
    rate_kg_s
        As measured [kg/s]; the trade's fastest for the method is assumed without it.
    method
        ``liquid``, ``vapour`` or ``push-pull``.
    causes
        What the cylinder's judgement says needs somebody.
    """
    rate = ASSUMED_RATE_KG_S[method] if rate_kg_s is None else rate_kg_s
    stop_at = stop_at_kg(target_gross_kg, rate_kg_s=rate_kg_s, method=method)
    # The stop call itself is no reason of its own: it is said by the weight.
    others = [cause for cause in causes if cause.kind is not Kind.STOP_FILLING]
    wrong = tuple(
        cause.text for cause in others if cause.kind in STOPS or cause.severity == Severity.CRITICAL
    )
    if wrong or (gross_kg is not None and gross_kg >= stop_at):
        return Call("stop", stop_at, 0.0, wrong)
    if gross_kg is None:
        return Call("unknown", stop_at, None)
    seconds = (stop_at - gross_kg) / rate if rate > 0.0 else None
    soon = seconds is not None and seconds <= SOON_S
    return Call("soon" if soon else "go", stop_at, seconds if rate_kg_s else None)


def needs_explaining(expected_kg: float | None, recovered_kg: float) -> bool:
    """Whether more or less came out than the charge by so much that somebody has to say why [kg]."""
    if expected_kg is None:
        return False
    return abs(recovered_kg - expected_kg) > max(UNEXPLAINED_SHARE * expected_kg, UNEXPLAINED_KG)


def _slope(points: Sequence[tuple[float, float]]) -> float:
    """Least squares through points of which two differ in time [kg/s]."""
    mean_s = sum(time for time, _ in points) / len(points)
    spread = sum((time - mean_s) ** 2 for time, _ in points)
    return sum((time - mean_s) * mass for time, mass in points) / spread
