"""Causes that need somebody: their kinds, what each is decided by, and how they begin, get worse and end.

A cause is raised at one value and cleared at another, so that it does not chatter; what is not known raises nothing
and clears nothing. It has a memory: what was seen when it began, against which its end is judged.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum
from typing import Final

from service.codes import Severity
from service.cylinders.boiling import Fall, Recent
from service.cylinders.judgement.advice import Advice
from service.cylinders.judgement.belief import Belief
from service.cylinders.judgement.limit import Filling
from service.cylinders.judgement.naming import Name
from service.cylinders.judgement.permission import Permission
from service.cylinders.judgement.state import CylinderState
from service.cylinders.requalification import Requalification
from service.units import k_from_c


class Kind(StrEnum):
    """The causes."""

    HOT = "hot"
    PRESSURE = "pressure-toward-rating"
    LIQUID_FULL = "liquid-full"
    LIQUID_FULL_SOON = "liquid-full-soon"
    OVERFULL = "overfull"
    STOP_FILLING = "stop-filling"
    BOILING_OFF = "boiling-off"
    LEAK = "leak"
    NOT_PERMITTED = "contents-not-permitted"
    FLAMMABLE_NOT_MARKED = "flammable-not-marked"
    NOT_EMPTY = "not-empty"
    CLAIM_CONTRADICTED = "claim-contradicted"
    MIXED = "mixed"
    AIR = "air"
    SHIFTED = "shifted"
    ADVICE_HOLD = "advice-hold"
    IMPLAUSIBLE = "implausible"
    OVERDUE = "overdue"
    STALE = "stale"
    BATTERY_LOW = "battery-low"
    DISAGREE = "devices-disagree"


ENDS: Final[dict[Kind, str]] = {
    Kind.HOT: "when the wall is below 45 °C (113 °F)",
    Kind.PRESSURE: "when the pressure is below 93 % of the marked service pressure",
    Kind.LIQUID_FULL: "when a new reading or the scale shows room for vapor",
    Kind.LIQUID_FULL_SOON: "when it is cooler or holds less",
    Kind.OVERFULL: "when enough has been taken out",
    Kind.STOP_FILLING: "when the cylinder is taken off, or holds less",
    Kind.BOILING_OFF: "when it has passed an inspection, was emptied, or a transfer out is recorded",
    Kind.LEAK: "when it has passed an inspection, was emptied, or the scale shows the mass again",
    Kind.NOT_PERMITTED: "when the contents were moved, or a reading shows something else",
    Kind.FLAMMABLE_NOT_MARKED: "when the contents were moved, a reading shows something else, or it is marked for them",
    Kind.NOT_EMPTY: "when it was evacuated",
    Kind.CLAIM_CONTRADICTED: "when it is relabeled by what was found, or a reading bears the label out",
    Kind.MIXED: "when it was emptied and evacuated, or a reading shows a single refrigerant",
    Kind.AIR: "when a reading shows no air, or it was emptied",
    Kind.SHIFTED: "when a reading shows the blend as made, it was emptied, or it counts as mixed",
    Kind.ADVICE_HOLD: "when a reading advises something else, or a supervisor releases it",
    Kind.IMPLAUSIBLE: "when a new weighing and the record fit, a reading shows what is in it, or it was emptied",
    Kind.OVERDUE: "when it was retested",
    Kind.STALE: "when it is heard again or unhooked",
    Kind.BATTERY_LOW: "when the battery was changed",
    Kind.DISAGREE: "when the devices agree again",
}
"""What ends each cause; nobody has to end one by hand."""


@dataclass(frozen=True, slots=True)
class Thresholds:
    """Where causes are raised and cleared.

    The upper storage temperature is 52 °C (125 °F): read on a university safety page, CGA P-1 from memory.
    The rest is this project's choice, without a source. Shares of the service pressure and of the limit are [-].
    """

    hot_k: float = k_from_c(48.0)
    hot_clear_k: float = k_from_c(45.0)
    hot_critical_k: float = k_from_c(52.0)
    pressure_of_service: float = 1.0
    pressure_clear_of_service: float = 0.93
    liquid_full_left_k: float = 10.0
    liquid_full_clear_k: float = 13.0
    stop_clear_kg: float = 0.5
    overfull_of_limit: float = 1.003
    stale_s: float = 900.0
    stale_clear_s: float = 300.0
    battery_percent: float = 15.0
    battery_clear_percent: float = 25.0
    leak_per_h: float = -0.01
    leak_clear_per_h: float = -0.002
    leak_steady_k_per_h: float = 0.5
    leak_mass_kg: float = 0.2
    leak_mass_clear_kg: float = 0.1
    unlikely: float = 0.4
    """Below it, what was likely (0.5) is so no longer [-]."""


@dataclass(frozen=True, slots=True)
class Inflow:
    """What runs into a cylinder out of equipment just now.

    Parameters
    ----------
    gross_kg : float or None
        On the scale [kg]; None while none is heard.
    target_gross_kg : float
        Gross mass at the filling limit [kg].
    rate_kg_s : float or None
        As measured [kg/s].
    method : str
        ``liquid``, ``vapour`` or ``push-pull``.
    """

    gross_kg: float | None
    target_gross_kg: float
    rate_kg_s: float | None
    method: str


@dataclass(frozen=True, slots=True)
class Live:
    """What the devices on a cylinder say now; None is unknown.

    Parameters
    ----------
    attached : bool
        Whether a device is on it at all.
    temp_k, gauge_pa : float or None
        Wall temperature [K] and gauge pressure [Pa].
    silent_s : float or None
        Since the last reading [s].
    battery_percent : float or None
        Lowest of its devices [%].
    devices_disagree : bool or None
        As the worker says.
    recent : Recent or None
        The last half hour, where it was asked for.
    inflow : Inflow or None
        What a recovery runs into it; None while none does.
    """

    attached: bool = False
    temp_k: float | None = None
    gauge_pa: float | None = None
    silent_s: float | None = None
    battery_percent: float | None = None
    devices_disagree: bool | None = None
    recent: Recent | None = None
    inflow: Inflow | None = None


@dataclass(frozen=True, slots=True)
class Course:
    """How mass and pressure changed; None is unknown.

    Parameters
    ----------
    unexplained_loss_kg : float or None
        Mass that the record has and a newer weighing does not [kg]; below 0 for mass that was gained.
    vapour_only : bool or None
        Liquid was there with these contents and is gone.
    pressure_slope_per_h, temp_slope_k_per_h : float or None
        Of ln(P/T) [1/h] and of the temperature [K/h], between the last two settled pairs.
    acted_at, drawn_at, judged_at, inspected_at, weighed_at : datetime or None
        Last act on the contents, last transfer out, last verdict on them, last passed inspection, and when a scale last
        showed the mass (a mass that was added up is no weighing).
    implausible : tuple of str
        What no state of matter allows, or nobody recorded, in words.
    """

    unexplained_loss_kg: float | None = None
    vapour_only: bool | None = None
    pressure_slope_per_h: float | None = None
    temp_slope_k_per_h: float | None = None
    acted_at: datetime | None = None
    drawn_at: datetime | None = None
    judged_at: datetime | None = None
    inspected_at: datetime | None = None
    weighed_at: datetime | None = None
    implausible: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Seen:
    """Everything that causes are decided by; ``cooling`` is a fall that no air explains."""

    state: CylinderState
    belief: Belief
    filling: Filling
    name: Name
    permission: Permission
    advice: Advice
    requalification: Requalification
    live: Live = field(default_factory=Live)
    course: Course = field(default_factory=Course)
    cooling: Fall | None = None


@dataclass(frozen=True, slots=True)
class Stood:
    """A cause that stands already: how serious, since when, what was seen when it was raised, in its name's unit."""

    severity: Severity
    since: datetime
    text: str = ""
    figures: Mapping[str, float] = field(default_factory=dict)

    def after(self, moment: datetime | None) -> bool:
        """Whether something happened since it was raised."""
        return moment is not None and moment > self.since


@dataclass(frozen=True, slots=True)
class Signal:
    """Answer of one rule: above the raising value, below the clearing value, or between; in their name's unit."""

    raise_it: bool
    clear_it: bool
    severity: Severity
    text: str
    figures: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Cause:
    """Something that needs somebody.

    ``text`` has both unit systems; ``figures`` (SI, in their name's unit) are for whoever words it otherwise.
    ``since`` is None where nobody has noted it down yet.
    """

    kind: Kind
    severity: Severity
    text: str
    since: datetime | None
    figures: Mapping[str, float] = field(default_factory=dict)

    @property
    def ends(self) -> str:
        """What ends it."""
        return ENDS[self.kind]
