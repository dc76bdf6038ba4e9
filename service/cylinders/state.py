"""What the rules know of one cylinder, and of what is to go into it."""

from dataclasses import dataclass, field
from datetime import date
from typing import Final

from service.cylinders.contents import UNKNOWN, Assessment, Contents
from service.cylinders.marks import Marks
from service.cylinders.requalification import Dates

IN_SERVICE: Final = "in-service"


@dataclass(frozen=True, slots=True)
class CylinderState:
    """All that the rules need to know of one cylinder.

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
        By the record.
    assessment : Assessment or None
        By the newest verdict of this epoch.
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
    """

    serial: str
    marks: Marks
    water_capacity_kg: float | None = None
    tare_kg: float | None = None
    dates: Dates = field(default_factory=Dates)
    contents: Contents = field(default_factory=Contents)
    assessment: Assessment | None = None
    holds: tuple[str, ...] = ()
    standing: str = IN_SERVICE
    flammable_marked: bool = False
    needs_consent_of: str | None = None
    inspected_on: date | None = None
    vacuum_recorded: bool = False

    @property
    def known_designation(self) -> str | None:
        """The recorded designation unless the verdict contradicts it; else what the verdict identified."""
        contents, assessment = self.contents, self.assessment
        recorded = contents.designation
        if recorded is not None:
            return recorded if assessment is None or recorded in assessment.candidates else None
        if (
            assessment is None
            or contents.is_empty
            or contents.is_mixed
            or assessment.identity != "identified"
        ):
            return None
        return assessment.candidates[0]

    @property
    def not_parted(self) -> tuple[str, ...]:
        """What else the evidence leaves beside the known designation, as long as the verdict identified none."""
        assessment, known = self.assessment, self.known_designation
        if known is None or assessment is None or assessment.identity == "identified":
            return ()
        return tuple(name for name in assessment.candidates if name != known)

    @property
    def in_doubt(self) -> bool:
        """Something is in it that is neither one known refrigerant nor a mixture on record."""
        return not self.contents.is_empty and self.known_designation is None and not self.contents.is_mixed

    @property
    def possible(self) -> tuple[str, ...]:
        """Every designation that the contents are, or may be; none when it is empty or nobody has an idea."""
        if self.contents.is_empty:
            return ()
        if self.known_designation is not None:
            return (self.known_designation,)
        recorded = [name for name in self.contents.shares if name != UNKNOWN]
        measured = self.assessment.candidates if self.assessment else ()
        return tuple(dict.fromkeys([*recorded, *measured]))


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
        What a check of the standing equipment left open, when one was made.
    """

    designation: str | None
    mass_kg: float
    candidates: tuple[str, ...] = ()

    @property
    def possible(self) -> tuple[str, ...]:
        """Every designation that it may be."""
        if self.designation is None or self.contradicted:
            return tuple(dict.fromkeys([*([self.designation] if self.designation else []), *self.candidates]))
        return (self.designation,)

    @property
    def contradicted(self) -> bool:
        """Whether the check of the equipment rules out what its nameplate says."""
        return (
            self.designation is not None and bool(self.candidates) and self.designation not in self.candidates
        )
