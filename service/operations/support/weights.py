"""How much went through a scale: net from gross and tare, or from the scale under a hooked-up cylinder."""

from dataclasses import dataclass
from datetime import timedelta
from typing import Literal

from service.operations.support import contents
from service.operations.support.context import Services
from service.operations.support.errors import FieldError, Invalid
from service.store import hookups, live
from service.store.cylinders import Cylinder, Epoch
from service.store.work import Work

Direction = Literal["in", "out"]
LIVE_FOR = timedelta(seconds=60)
AGREE_KG = 0.05
"""So far a stated mass and two weighings may lie apart [kg]: a trade scale read twice (practice)."""


SEEN_SHARE = 0.02
"""A change on the scale within this share of a recorded mass is that transfer (a judgement) [-]."""


@dataclass(frozen=True, slots=True)
class Weighing:
    """
    What somebody says about masses; at least one way has to lead to the mass moved.

    Parameters
    ----------
    mass_kg
        Net mass moved [kg].
    gross_before_kg, gross_after_kg
        On the scale [kg]; the one before defaults to the last weighing.
    from_live
        Take the gross mass after from the scale under the cylinder.
    """

    mass_kg: float | None = None
    gross_before_kg: float | None = None
    gross_after_kg: float | None = None
    from_live: bool = False


@dataclass(frozen=True, slots=True)
class Weighed:
    """Mass moved, and the gross mass before and after it where they are known [kg].

    ``measured``: a scale showed the mass after it; otherwise it was added up.
    """

    mass_kg: float
    gross_after_kg: float | None
    gross_before_kg: float | None
    measured: bool = False


def weigh(
    services: Services,
    work: Work,
    cylinder: Cylinder,
    epoch: Epoch,
    weighing: Weighing,
    direction: Direction,
) -> Weighed:
    """
    Mass moved, and the gross mass before and after it.

    A scale under the cylinder shows what comes in before anybody records it. So the record says what was
    in before, unless scale and record differ by something else than what is recorded now.

    Raises
    ------
    Invalid
        When no way leads to a mass, when two ways disagree, when a gross mass lies below the tare.
    """
    after = live_mass(services, work, cylinder) if weighing.from_live else weighing.gross_after_kg
    before = weighing.gross_before_kg
    if before is None:
        before = _before(cylinder, epoch, None if after is not None else weighing.mass_kg, direction)
    for field, gross in (("gross_before_kg", weighing.gross_before_kg), ("gross_after_kg", after)):
        _above_tare(cylinder, field, gross)
    mass, measured = weighing.mass_kg, after is not None
    if after is not None and before is not None:
        mass = _difference(before, after, mass, direction, weighing)
    if mass is None:
        expected = "the mass moved, or the gross mass before and after it"
        raise Invalid(FieldError("mass_kg", None, expected))
    if mass <= 0.0:
        raise Invalid(FieldError("mass_kg", mass, "a mass above zero"))
    if after is None and before is not None:
        after = before + mass if direction == "in" else before - mass
        _above_tare(cylinder, "mass_kg", after, shown=mass)
    return Weighed(mass, after, before, measured)


def _before(cylinder: Cylinder, epoch: Epoch, mass: float | None, direction: Direction) -> float | None:
    recorded = contents.by_record(epoch)
    held = None if recorded is None else recorded.mass_kg
    if held is None or cylinder.tare_kg is None:
        return cylinder.gross_mass_kg
    net = cylinder.net_mass_kg
    if mass is None or net is None or not contents.weighed_since(cylinder, epoch):
        return cylinder.tare_kg + held
    seen = net - held if direction == "in" else held - net
    seen_already = abs(seen - mass) <= max(2 * AGREE_KG, SEEN_SHARE * mass)
    return cylinder.tare_kg + held if seen_already else cylinder.gross_mass_kg


def _difference(
    before: float, after: float, stated: float | None, direction: Direction, weighing: Weighing
) -> float:
    moved = after - before if direction == "in" else before - after
    if moved <= 0.0 and (stated is None or weighing.gross_before_kg is not None):
        word = "more" if direction == "in" else "less"
        raise Invalid(FieldError.mass("gross_after_kg", after, f"{word} than before", before))
    if stated is None:
        return moved
    if weighing.gross_before_kg is not None and abs(moved - stated) > AGREE_KG:
        raise Invalid(FieldError.mass("mass_kg", stated, "what the scale shows", moved))
    return stated


def _above_tare(cylinder: Cylinder, field: str, gross: float | None, shown: float | None = None) -> None:
    tare = cylinder.tare_kg
    if gross is None or tare is None or gross >= tare - AGREE_KG:
        return
    if shown is not None:
        raise Invalid(
            FieldError.mass(field, shown, "at most what was in it, by the last weight", gross + shown - tare)
        )
    raise Invalid(FieldError.mass(field, gross, "at least the tare", tare))


def live_mass(services: Services, work: Work, cylinder: Cylinder) -> float:
    """
    Gross mass that the scale under a hooked-up cylinder shows now [kg].

    Raises
    ------
    Invalid
        When none was heard within a minute.
    """
    attached = [hookup.id for hookup in hookups.active_of(work, cylinder.id)]
    newest = services.now() - LIVE_FOR
    for snapshot in live.of_hookups(work, attached).values():
        mass = snapshot.document.get("mass_kg")
        if mass is not None and snapshot.at >= newest:
            return float(mass)
    expected = "a scale under the cylinder that was heard within a minute"
    raise Invalid(FieldError("from_live", True, expected))
