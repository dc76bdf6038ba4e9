"""Queries for what is shown of a whole fleet: which cylinders, in what order, and what stands; one page at a time."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa

from service.codes import Severity, Standing
from service.store import summaries as kept
from service.store.tables import alarms, cylinders, holds, hookups, live, places, summaries
from service.store.work import Work

DANGER, ATTENTION, HOLD, NOTICE, QUIET = range(5)
NEEDS, ON_HOLD, UNHOOKED = "needs", "hold", "none"
NOWHERE = "no place"
_RANK = {Severity.CRITICAL: DANGER, Severity.WARNING: ATTENTION}


@dataclass(frozen=True, slots=True)
class Wanted:
    """
    Which cylinders somebody asked to see; what is empty asks for all.

    Parameters
    ----------
    q
        Part of a serial or of the marks.
    refrigerant
        Something that it may hold.
    state
        A settling state, ``none`` for no hookup, ``needs`` for a cause that stands, ``hold``.
    place
        A place's name, or ``no place``.
    besides
        Cylinders without a summary that were found to be able to hold the refrigerant.
    among
        Only these, in service or not.
    """

    q: str = ""
    refrigerant: str = ""
    state: str = ""
    place: str = ""
    besides: Sequence[int] = ()
    among: Sequence[int] | None = None

    @property
    def everything(self) -> bool:
        """Whether nothing is asked for."""
        return not (self.q.strip() or self.refrigerant or self.state or self.place)


@dataclass(frozen=True, slots=True)
class Counted:
    """How many cylinders are wanted, and of those need somebody."""

    wanted: int
    needing: int


@dataclass(frozen=True, slots=True)
class Tile:
    """A cylinder as a wall shows it: where it is, how urgent its worst cause is, and that cause's code."""

    serial: str
    place: str
    rank: int
    code: str | None


class Fleet:
    """
    Statements over every cylinder in service, of which none reads more than one page of rows.

    Parameters
    ----------
    work
        The open transaction.
    judged_by
        Which summaries speak for their cylinders.
    """

    def __init__(self, work: Work, judged_by: str) -> None:
        self._work, self._judged_by = work, judged_by
        said = work.select(alarms, alarms.c.cylinder_id, sa.func.min(_rank()).label("rank"))
        said = said.where(alarms.c.cleared_at.is_(None), alarms.c.cylinder_id.is_not(None))
        self._said = said.group_by(alarms.c.cylinder_id).subquery("said")
        held = work.select(holds, holds.c.cylinder_id).where(holds.c.released_at.is_(None)).distinct()
        self._held = held.subquery("held")
        on_hold, rank = self._held.c.cylinder_id.is_not(None), sa.func.coalesce(self._said.c.rank, QUIET)
        self._rank = sa.case((on_hold & (rank > HOLD), HOLD), else_=rank)
        self._place = sa.func.coalesce(places.c.name, NOWHERE)

    def page(self, wanted: Wanted, limit: int, offset: int) -> list[int]:
        """Ids of one page: what needs somebody first, the worst of it first, then by place and serial."""
        statement = self._filtered(wanted, cylinders.c.id)
        ordered = statement.order_by(self._rank, self._place, cylinders.c.serial)
        return [int(one) for one in self._scalars(ordered.limit(limit).offset(offset))]

    def counted(self, wanted: Wanted) -> Counted:
        """Count them."""
        needing = sa.func.count(sa.case((self._rank < QUIET, 1)))
        found = self._work.connection.execute(self._filtered(wanted, sa.func.count(), needing)).one()
        return Counted(int(found[0]), int(found[1]))

    def tiles(self, limit: int) -> list[Tile]:
        """The worst first, then by place and serial; so many at most."""
        worst = self._work.select(
            alarms,
            alarms.c.cylinder_id,
            sa.func.min(sa.cast(_rank(), sa.String) + alarms.c.code).label("worst"),
        )
        standing = alarms.c.cleared_at.is_(None) & alarms.c.cylinder_id.is_not(None)
        each = worst.where(standing).group_by(alarms.c.cylinder_id).subquery("each")
        columns = (cylinders.c.serial, self._place, self._rank, each.c.worst)
        statement = self._filtered(Wanted(), *columns, more=((each, each.c.cylinder_id == cylinders.c.id),))
        ordered = statement.order_by(self._rank, self._place, cylinders.c.serial).limit(limit)
        return [
            Tile(str(serial), str(place), int(rank), _code(worst, int(rank)))
            for serial, place, rank, worst in self._work.connection.execute(ordered)
        ]

    def refrigerants(self) -> tuple[set[str], bool]:
        """Everything that some cylinder may hold, and whether every cylinder has a summary that says so."""
        texts = list(self._scalars(kept.believed(self._work, self._judged_by)))
        named = (str(text).strip(kept.BAR).split(kept.BAR) for text in texts if text)
        return {name for some in named for name in some}, None not in texts

    def places(self) -> dict[str, int]:
        """How many cylinders in service are where."""
        joined = cylinders.outerjoin(places, places.c.id == cylinders.c.place_id)
        statement = self._work.select(cylinders, self._place, sa.func.count()).select_from(joined)
        statement = statement.where(cylinders.c.standing == Standing.IN_SERVICE).group_by(self._place)
        found = self._work.connection.execute(statement.order_by(self._place))
        return {str(name): int(number) for name, number in found}

    def _filtered(
        self, wanted: Wanted, *columns: sa.ColumnElement[Any], more: Sequence[tuple[Any, Any]] = ()
    ) -> sa.Select[Any]:
        joined = cylinders.outerjoin(places, places.c.id == cylinders.c.place_id)
        joined = joined.outerjoin(self._said, self._said.c.cylinder_id == cylinders.c.id)
        joined = joined.outerjoin(self._held, self._held.c.cylinder_id == cylinders.c.id)
        for table, on in more:
            joined = joined.outerjoin(table, on)
        if wanted.refrigerant:
            joined = joined.outerjoin(summaries, kept.current(self._work, self._judged_by))
        statement = self._work.select(cylinders, *columns).select_from(joined)
        in_service, among = cylinders.c.standing == Standing.IN_SERVICE, wanted.among
        chosen = in_service if among is None else cylinders.c.id.in_(among)
        return statement.where(chosen, *self._conditions(wanted))

    def _conditions(self, wanted: Wanted) -> list[sa.ColumnElement[bool]]:
        found: list[sa.ColumnElement[bool]] = []
        if text := wanted.q.strip():
            in_marks = cylinders.c.marks.icontains(text, autoescape=True)
            found.append(cylinders.c.serial.icontains(text, autoescape=True) | in_marks)
        if wanted.place:
            found.append(self._place == wanted.place)
        if wanted.refrigerant:
            named = summaries.c.believable.contains(kept.between_bars([wanted.refrigerant]), autoescape=True)
            found.append(named | cylinders.c.id.in_(wanted.besides))
        if wanted.state == NEEDS:
            found.append(self._rank < QUIET)
        elif wanted.state == ON_HOLD:
            found.append(self._held.c.cylinder_id.is_not(None))
        elif wanted.state:
            found.append(self._settling(wanted.state))
        return found

    def _settling(self, state: str) -> sa.ColumnElement[bool]:
        """Whether that was last said of the hookup that was heard last; a set, which is made once a statement."""
        active = hookups.c.to_at.is_(None)
        if state == UNHOOKED:
            return cylinders.c.id.not_in(self._work.select(hookups, hookups.c.cylinder_id).where(active))
        newest = (live.c.at.is_not(None).desc(), live.c.at.desc(), hookups.c.id.desc())
        place = sa.func.row_number().over(partition_by=hookups.c.cylinder_id, order_by=newest)
        said = sa.func.coalesce(live.c.settling_state, "waiting").label("state")
        joined = hookups.outerjoin(live, live.c.hookup_id == hookups.c.id)
        each = self._work.select(hookups, hookups.c.cylinder_id, said, place.label("place")).select_from(
            joined
        )
        ranked = each.where(active).subquery("ranked")
        return cylinders.c.id.in_(
            sa.select(ranked.c.cylinder_id).where(ranked.c.place == 1, ranked.c.state == state)
        )

    def _scalars(self, statement: sa.Select[Any]) -> sa.ScalarResult[Any]:
        return self._work.connection.execute(statement).scalars()


def _rank() -> sa.ColumnElement[int]:
    return sa.case(_RANK, value=alarms.c.severity, else_=NOTICE)


def _code(worst: str | None, rank: int) -> str | None:
    """The code behind its rank; a hold without a graver cause is its own."""
    if rank == HOLD:
        return ON_HOLD
    return None if worst is None else worst[1:]
