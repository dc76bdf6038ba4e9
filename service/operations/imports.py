"""Bulk import: row by row through the same use cases as single entries; good rows are kept, bad ones are told."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from functools import partial
from itertools import islice
from typing import Generic, Required, TypedDict, TypeVar

from service.operations import cylinders, places
from service.operations.cylinders import NewCylinder
from service.operations.support.context import Actor, Services
from service.operations.support.errors import Conflict, FieldError, Invalid, NotFound
from service.store import cylinders as stored_cylinders
from service.store import devices
from service.store.work import Work

BATCH = 100
"""Rows of one transaction: what is done stays done when the line breaks, and a repeat finds it unchanged."""
MOST_ERRORS = 1000


class NewDevice(TypedDict, total=False):
    """A device that may not have been heard yet."""

    device: Required[str]
    place: str
    probe_lag_s: float


V = TypeVar("V")


@dataclass(frozen=True, slots=True)
class Row(Generic[V]):
    """One line of a file: its number, what it says, and what could not be read of it."""

    number: int
    values: V | None
    faults: tuple[FieldError, ...] = ()


@dataclass(frozen=True, slots=True)
class RowError:
    """One fault of one row."""

    row: int
    field: str
    value: object
    expected: str


@dataclass(slots=True)
class Report:
    """What became of the rows; after ``MOST_ERRORS`` faults the rest is counted alone."""

    rows: int = 0
    created: int = 0
    unchanged: int = 0
    refused: int = 0
    errors: list[RowError] = field(default_factory=list)

    def refuse(self, number: int, faults: Iterable[FieldError]) -> None:
        """Count a row as refused."""
        self.refused += 1
        for fault in islice(faults, max(0, MOST_ERRORS - len(self.errors))):
            self.errors.append(RowError(number, fault.field, fault.value, fault.expected))


OneRow = Callable[[Work, V], bool]
"""Applies one row; false when it was applied before."""


class _Rehearsed(Exception):
    """Undoes what a dry run has written."""


def cylinders_from(
    services: Services, actor: Actor, rows: Iterable[Row[NewCylinder]], *, dry_run: bool
) -> Report:
    """
    Register cylinders from rows of ``serial`` and whatever ``cylinders.register`` takes.

    Parameters
    ----------
    services, actor
        What may be used, and who asks.
    rows
        Read as they come.
    dry_run
        Do everything and keep nothing; batches do not see each other's rows then.

    Returns
    -------
    Report
        A row that is registered already with the same values counts as unchanged.
    """

    def register(work: Work, values: NewCylinder) -> bool:
        serial, given = values["serial"], cylinders.besides_serial(values)
        there = stored_cylinders.by_serial(work, serial)
        if there is None:
            cylinders.register(services, actor, serial, given)
            return True
        claimed = given.get("claimed_designation")
        if claimed is not None:
            given["claimed_designation"] = cylinders.designation(services, claimed)
        _same(serial, given, there)
        return False

    return _take(services, actor, rows, register, dry_run=dry_run)


def devices_from(
    services: Services, actor: Actor, rows: Iterable[Row[NewDevice]], *, dry_run: bool
) -> Report:
    """Take devices from rows of ``device``, ``place`` and ``probe_lag_s``; otherwise as ``cylinders_from``."""
    return _take(services, actor, rows, _device, dry_run=dry_run)


def _take(
    services: Services, actor: Actor, rows: Iterable[Row[V]], one: OneRow[V], *, dry_run: bool
) -> Report:
    report = Report()
    for batch in _batches(rows):
        with suppress(_Rehearsed), services.database.writing(actor.organisation_id) as work:
            for row in batch:
                report.rows += 1
                if row.values is None:
                    report.refuse(row.number, row.faults)
                else:
                    _apply(report, row.number, partial(one, work, row.values))
            if dry_run:
                raise _Rehearsed
    return report


def _apply(report: Report, number: int, act: Callable[[], bool]) -> None:
    try:
        if act():
            report.created += 1
        else:
            report.unchanged += 1
    except Invalid as error:
        report.refuse(number, error.errors)
    except NotFound as error:
        report.refuse(number, [FieldError(error.noun, error.key, f"a {error.noun} that exists")])
    except Conflict as error:
        report.refuse(number, [FieldError("", None, str(error))])


def _device(work: Work, values: NewDevice) -> bool:
    name, place = values["device"], values.get("place")
    if place is not None:
        places.named(work, place)
    there = devices.by_name(work, name)
    if there is None:
        devices.insert(work, name=name, place=place, probe_lag_s=values.get("probe_lag_s"))
        return True
    _same(name, {key: value for key, value in values.items() if key != "device"}, there)
    return False


def _same(name: str, given: Mapping[str, object], there: object) -> None:
    faults = []
    for key, value in given.items():
        known = getattr(there, key, None)
        close = isinstance(value, float) and isinstance(known, float) and abs(value - known) < 1e-6
        if value != known and not close and hasattr(there, key):
            faults.append(FieldError(key, value, f"{known!r}, as {name} is registered already"))
    if faults:
        raise Invalid(*faults)


def _batches(rows: Iterable[Row[V]]) -> Iterator[list[Row[V]]]:
    waiting = iter(rows)
    while batch := list(islice(waiting, BATCH)):
        yield batch
