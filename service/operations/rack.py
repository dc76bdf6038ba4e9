"""The rack: what stands where, how it is, and what of it needs a person."""

from collections import defaultdict
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cache

from service.cylinders.filling import filling_limit
from service.cylinders.marks import Marks, read_marks
from service.cylinders.properties import FILL_REFERENCE_K, Knowledge, covers, liquid_fraction
from service.cylinders.requalification import Dates, Requalification, requalification
from service.cylinders.stamping import BadStamp, read_stamp
from service.operations.context import Actor, Services
from service.operations.errors import NotFound
from service.refrigerants.curves import SaturationCurves
from service.store import alarms, rack
from service.store.alarms import Alarm
from service.store.rack import Attached, RackRow
from service.store.rulebook import load_filling_table


@dataclass(frozen=True, slots=True)
class Filling:
    """How full, to the volume [-] and by mass [kg]; None where it is not known."""

    liquid_fraction: float | None = None
    limit_fraction: float | None = None
    net_mass_kg: float | None = None
    limit_kg: float | None = None


@dataclass(frozen=True, slots=True)
class Racked:
    """A cylinder as the rack shows it."""

    row: RackRow
    attached: Attached | None
    alarms: tuple[Alarm, ...]
    filling: Filling
    requalification: Requalification
    marks: Marks


def listed(services: Services, actor: Actor, serials: Collection[str] = ()) -> list[Racked]:
    """Every cylinder, or those of these serials; the number of statements does not depend on how many."""
    with services.database.reading(actor.organisation_id) as work:
        rows = rack.rows(work, serials)
        attached = rack.attached(work, [row.id for row in rows] if serials else None)
        standing: dict[int | None, list[Alarm]] = defaultdict(list)
        for alarm in alarms.standing(work):
            standing[alarm.cylinder_id].append(alarm)
    fill = _filler(services)
    today = services.now().date()
    return [
        Racked(
            row=row,
            attached=attached.get(row.id),
            alarms=tuple(standing[row.id]),
            filling=fill(row, attached.get(row.id)),
            requalification=_requalification(row, today),
            marks=_marks(row.marks),
        )
        for row in rows
    ]


def one(services: Services, actor: Actor, serial: str) -> Racked:
    """One cylinder as the rack shows it, or ``NotFound``."""
    found = listed(services, actor, [serial])
    if not found:
        raise NotFound("cylinder", serial)
    return found[0]


def candidates(row: RackRow) -> list[str]:
    """What the contents may be, likeliest first: the verdict's set, else what the label says."""
    if row.identity and row.identity["candidates"]:
        return [str(c["designation"]) for c in row.identity["candidates"]]
    return [row.claimed_designation] if row.claimed_designation else []


@cache
def _marks(text: str | None) -> Marks:
    return read_marks(text)


def _requalification(row: RackRow, today: date) -> Requalification:
    stamp = None
    if row.requalification_stamp:
        try:
            stamp = read_stamp(row.requalification_stamp, on=today)
        except BadStamp:
            stamp = None
    return requalification(_marks(row.marks), Dates(stamp=stamp), on=today)


class _Remembered:
    """Saturation curves that remember each density they were asked for."""

    def __init__(self, curves: SaturationCurves) -> None:
        self.temp_range_k = cache(curves.temp_range_k)
        self.bubble_pressure_pa = curves.bubble_pressure_pa
        self.liquid_density_kg_m3 = cache(curves.liquid_density_kg_m3)
        self.vapour_density_kg_m3 = cache(curves.vapour_density_kg_m3)


def _filler(services: Services) -> Callable[[RackRow, Attached | None], Filling]:
    """Reckon fillings; every density is looked up once, however many cylinders hold the same."""
    curves = _Remembered(services.curves)
    knowledge = Knowledge(curves, load_filling_table(), lambda _designation: None)

    @cache
    def limit_per_kg(designation: str, marks: Marks) -> float:
        return filling_limit(designation, 1.0, knowledge, marks=marks).mass_kg

    def fill(row: RackRow, at: Attached | None) -> Filling:
        names, capacity = candidates(row), row.water_capacity_kg
        if not names or not capacity:
            return Filling(net_mass_kg=row.net_mass_kg)
        limit = min(limit_per_kg(name, _marks(row.marks)) for name in names)
        temp_k = FILL_REFERENCE_K if at is None or at.temp_k is None else float(round(at.temp_k))
        if not covers(curves, names[0], temp_k):
            return Filling(net_mass_kg=row.net_mass_kg, limit_kg=limit * capacity)

        def level(mass_kg: float) -> float:
            return liquid_fraction(
                curves, names[0], net_mass_kg=mass_kg, water_capacity_kg=capacity, temp_k=temp_k
            )

        held = None if row.net_mass_kg is None else level(max(row.net_mass_kg, 0.0))
        return Filling(held, level(limit * capacity), row.net_mass_kg, limit * capacity)

    return fill


def serials(services: Services, actor: Actor) -> Sequence[str]:
    """Every serial, for completing what somebody types."""
    with services.database.reading(actor.organisation_id) as work:
        return rack.serials(work)


def places(services: Services, actor: Actor) -> Sequence[str]:
    """Every place, by name."""
    with services.database.reading(actor.organisation_id) as work:
        return rack.place_names(work)


def unseen_alarms(services: Services, actor: Actor) -> int:
    """How many alarms stand that nobody has acknowledged."""
    with services.database.reading(actor.organisation_id) as work:
        return rack.unseen_alarms(work)
