"""What is known of one cylinder, and of what is to go into it."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Final

from service.codes import Standing
from service.cylinders.contents import UNKNOWN, Contents
from service.cylinders.judgement import belief
from service.cylinders.judgement.assessment import Assessment
from service.cylinders.judgement.belief import DECIDED, EMPTY, Belief, Content, Kind, Source
from service.cylinders.markings import Marks
from service.cylinders.requalification import Dates

CHECKED_TRUST: Final = 0.85
"""How far a check of standing equipment is believed of what comes out of it: not so far that the contents are named
without a check of their own (a judgement) [-]."""


@dataclass(frozen=True, slots=True)
class Trust:
    """How often a label and a record name what is inside [-]; of the table that verdicts start from (judgements)."""

    label: float = 0.9
    record: float = 0.95


@dataclass(frozen=True, slots=True)
class CylinderState:
    """All that the judgement needs to know of one cylinder.

    Parameters
    ----------
    serial : str
        As stamped.
    marks : Marks
        Specification and pressures.
    water_capacity_kg, tare_kg : float or None
        As stamped [kg].
    dates : Dates
        Requalification.
    contents : Contents
        Masses by the record and the scale.
    label : str or None
        What the label says now.
    claims : tuple of str
        Every designation that a label gave to the present contents before anything was measured.
    carried : Belief or None
        What was believed when the present contents began, where more than the record says.
    assessment : Assessment or None
        By the newest verdict on these contents; by the one before them, marked ``carried``, until there is one.
    released : frozenset of str
        Advice that a supervisor has released for these contents, by code.
    holds : tuple of str
        Reasons of the holds in force.
    standing : str
        ``in-service``, ``scrapped``, ``handed-over``, ``condemned``.
    flammable_marked : bool
        Marked and fitted for flammable gas.
    needs_consent_of : str or None
        The owner, where the cylinder is somebody else's and no consent is recorded.
    inspected_on, vacuum_recorded : date or None, bool
        Last passed inspection; whether an evacuation with its vacuum reading is recorded.
    found_pressure_pa : float or None
        Absolute pressure that a reading showed in a cylinder recorded as empty [Pa].
    trust : Trust
        In labels and records.
    """

    serial: str
    marks: Marks
    water_capacity_kg: float | None = None
    tare_kg: float | None = None
    dates: Dates = field(default_factory=Dates)
    contents: Contents = field(default_factory=Contents)
    label: str | None = None
    claims: tuple[str, ...] = ()
    carried: Belief | None = None
    assessment: Assessment | None = None
    released: frozenset[str] = frozenset()
    holds: tuple[str, ...] = ()
    standing: str = Standing.IN_SERVICE
    flammable_marked: bool = False
    needs_consent_of: str | None = None
    inspected_on: date | None = None
    vacuum_recorded: bool = False
    found_pressure_pa: float | None = None
    trust: Trust = field(default_factory=Trust)

    @property
    def net_mass_kg(self) -> float | None:
        """What is in it [kg]; None when it was never weighed with these contents."""
        return 0.0 if self.contents.is_empty else self.contents.mass_kg

    @property
    def measured(self) -> Assessment | None:
        """The verdict on the present contents."""
        return None if self.assessment is None or self.assessment.carried else self.assessment


def believe(state: CylinderState) -> Belief:
    """What a cylinder may hold, by the best evidence there is.

    A mixture on record stays one whatever a reading says: pressure cannot show that it is none. Then come readings
    of the present contents, what was believed when they began, the record, and last the label. Emptied and not
    evacuated it holds a residue, and that is what it held.
    """
    if state.contents.evacuated:
        return EMPTY
    if state.contents.is_empty:
        return replace(_inside(state, replace(state.contents, mass_kg=None)), is_empty=True)
    return _inside(state, state.contents)


def _inside(state: CylinderState, contents: Contents) -> Belief:
    named = {name: share for name, share in contents.shares.items() if name != UNKNOWN}
    if contents.is_mixed and contents.basis == "record" and len(named) > 1:
        return belief.blended(named, 1.0, Source.RECORD)
    if state.measured is not None:
        return state.measured.belief
    if state.carried is not None:
        return state.carried
    if contents.basis == "record" and contents.designation is not None:
        return belief.single(contents.designation, state.trust.record, Source.RECORD)
    if state.claims:
        return belief.claimed(state.claims, state.trust.label)
    return _of_unnamed_mixture(named)


def _of_unnamed_mixture(named: Mapping[str, float]) -> Belief:
    """A known refrigerant on top of contents that the record does not name; nothing known otherwise."""
    if not named:
        return Belief()
    main = max(named, key=lambda name: (named[name], name))
    return Belief((Content(main, {Kind.MIXED: 1.0}, {}, Source.RECORD),))


@dataclass(frozen=True, slots=True)
class Incoming:
    """What is to go in.

    Parameters
    ----------
    designation : str or None
        None when nobody knows it.
    mass_kg : float
        How much [kg].
    candidates : tuple of str
        What a check of the standing equipment left open, the most likely first, when one was made.
    nameplate_share : float or None
        How likely that check finds ``designation`` [-]; None where it does not say.
    belief : Belief or None
        What is believed of it, where it comes out of a cylinder.
    """

    designation: str | None
    mass_kg: float
    candidates: tuple[str, ...] = ()
    belief: Belief | None = None
    nameplate_share: float | None = None

    @property
    def possible(self) -> tuple[str, ...]:
        """Every designation that it may be."""
        if self.belief is not None:
            return self.belief.believable
        if self.designation is None or self.contradicted:
            return tuple(dict.fromkeys([*([self.designation] if self.designation else []), *self.candidates]))
        return (self.designation,)

    @property
    def contradicted(self) -> bool:
        """Whether the check of the equipment rules out what its nameplate says, or leaves less than a tenth for it.

        With that little left another refrigerant may be as good as decided.
        """
        if self.designation is None or not self.candidates:
            return False
        doubted = self.nameplate_share is not None and self.nameplate_share < 1.0 - DECIDED
        return doubted or self.designation not in self.candidates

    @property
    def doubted(self) -> bool:
        """Whether the check finds something else more likely than what the nameplate says."""
        return bool(self.candidates) and self.designation not in (None, self.candidates[0])

    def believed(self, trust: Trust) -> Belief:
        """What is believed of it: of a cylinder's contents, else of the check, else of the nameplate."""
        if self.belief is not None:
            return self.belief
        if self.candidates and (self.designation is None or self.contradicted):
            return belief.carried(belief.claimed(self.candidates, CHECKED_TRUST))
        if self.designation is None:
            return Belief()
        return belief.single(self.designation, trust.record, Source.RECORD)
