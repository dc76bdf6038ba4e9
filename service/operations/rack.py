"""The rack: what stands where, how it is, and what of it needs a person."""

from collections import defaultdict
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import cache, lru_cache

from service.cylinders.contents import Contents
from service.cylinders.filling import filling_limit
from service.cylinders.marks import Marks, read_marks
from service.cylinders.properties import FILL_REFERENCE_K, covers, liquid_fraction
from service.cylinders.requalification import Requalification, requalification
from service.cylinders.state import IN_SERVICE
from service.operations import calendar, contents, states
from service.operations import places as places_of
from service.operations.context import Actor, Services
from service.operations.errors import NotFound
from service.operations.knowledge import knowledge
from service.store import alarms, holds, rack
from service.store import cylinders as stored
from service.store.alarms import Alarm
from service.store.cylinders import Cylinder
from service.store.holds import Hold
from service.store.rack import Attached, Gist


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

    row: Cylinder
    contents: Contents
    gist: Gist | None
    attached: Attached | None
    alarms: tuple[Alarm, ...]
    holds: tuple[Hold, ...]
    filling: Filling
    requalification: Requalification
    marks: Marks

    @property
    def possible(self) -> tuple[str, ...]:
        """What the contents may be, likeliest first: by the verdict, else by the record or the label."""
        if self.contents.is_empty:
            return ()
        if self.gist is not None and self.gist.identity.candidates:
            return tuple(found.designation for found in self.gist.identity.candidates)
        return tuple(name for name in self.contents.shares if name != "unknown")


def listed(services: Services, actor: Actor, serials: Collection[str] = ()) -> list[Racked]:
    """
    Every cylinder in service, or those of these serials whatever their standing.

    The number of statements does not depend on how many there are.
    """
    with services.database.reading(actor.organisation_id) as work:
        some = rack.ids_of(work, serials) if serials else None
        rows = stored.everything(work) if some is None else stored.by_ids(work, some)
        rows = [row for row in rows if serials or row.standing == IN_SERVICE]
        epochs = stored.present_epochs(work, [row.id for row in rows])
        gists, attached, held = rack.gists(work, some), rack.attached(work, some), holds.in_force(work, some)
        standing: dict[int | None, list[Alarm]] = defaultdict(list)
        for alarm in alarms.standing(work):
            standing[alarm.cylinder_id].append(alarm)
        today = calendar.today(services, work)
        laws = {row.id: places_of.law_of(work, row.place_rule_book) for row in rows}
    fill = _filler(services)
    found = [
        Racked(
            row=row,
            contents=contents.read(row, epochs[row.id]),
            gist=gists.get(row.id),
            attached=attached.get(row.id),
            alarms=tuple(standing[row.id]),
            holds=tuple(held.get(row.id, ())),
            filling=Filling(),
            requalification=_requalification(row, laws[row.id], today),
            marks=_marks(row.marks, laws[row.id]),
        )
        for row in rows
    ]
    return [replace(one, filling=fill(one)) for one in found]


def one(services: Services, actor: Actor, serial: str) -> Racked:
    """One cylinder as the rack shows it, or ``NotFound``."""
    found = listed(services, actor, [serial])
    if not found:
        raise NotFound("cylinder", serial)
    return found[0]


@lru_cache(maxsize=1024)
def _marks(text: str | None, law: str) -> Marks:
    return read_marks(text, law=law)


def _requalification(row: Cylinder, law: str, on: date) -> Requalification:
    return requalification(_marks(row.marks, law), states.dates_of(row, on, law), on=on)


def _filler(services: Services) -> Callable[[Racked], Filling]:
    """Reckon fillings; every density is looked up once, however many cylinders hold the same."""
    known = knowledge(services)
    curves = known.saturation

    @cache
    def limit_per_kg(designation: str, marks: Marks) -> float:
        return filling_limit(designation, 1.0, known, marks=marks).mass_kg

    def fill(one: Racked) -> Filling:
        names, capacity, mass = one.possible, one.row.water_capacity_kg, one.contents.mass_kg
        if one.contents.is_empty:
            return Filling(0.0, None, 0.0, None)
        if not names or not capacity:
            return Filling(net_mass_kg=mass)
        limit = min(limit_per_kg(name, one.marks) for name in names) * capacity
        at = one.attached
        temp_k = FILL_REFERENCE_K if at is None or at.temp_k is None else float(round(at.temp_k))
        if not covers(curves, names[0], temp_k):
            return Filling(net_mass_kg=mass, limit_kg=limit)

        def level(mass_kg: float) -> float:
            return liquid_fraction(
                curves, names[0], net_mass_kg=mass_kg, water_capacity_kg=capacity, temp_k=temp_k
            )

        return Filling(None if mass is None else level(mass), level(limit), mass, limit)

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
