"""Queries for checks of instruments and for what is believed of their errors."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import sqlalchemy as sa

from service.store.paging import Page, PageRequest, fetch_page
from service.store.tables import cylinders, devices, hookups, pairs
from service.store.tables import instrument_checks as checks
from service.store.tables import instrument_errors as errors
from service.store.work import Work


@dataclass(frozen=True, slots=True)
class StoredCheck:
    """A check by hand: what was shown less what is true, in kelvin or pascals by the quantity."""

    id: int
    device: str
    method: str
    quantity: str
    error: float
    uncertainty: float
    pressure_pa: float | None
    certificate: str | None
    note: str | None
    due_at: datetime | None
    checked_at: datetime
    recorded_at: datetime
    recorded_by: str


@dataclass(frozen=True, slots=True)
class StoredError:
    """What was believed of a set after one lesson: a check by hand or a settled pair, which told what was `seen`."""

    id: int
    thermometer: str
    gauge: str
    at: datetime
    check_id: int | None
    pair_id: int | None
    cylinder_id: int | None
    epoch: int | None
    belief: dict[str, Any]
    combined_k: float
    uncertainty_k: float
    doubt: float
    seen: dict[str, Any] | None
    asked: bool


@dataclass(frozen=True, slots=True)
class SeenByPair:
    """What a settled pair told, by what is known now, and the row with which it first taught."""

    first: int
    newest: dict[str, Any]


def known(work: Work, device: str) -> bool:
    """Whether a device was ever heard of or hooked up."""
    heard = work.select(devices, devices.c.id).where(devices.c.name == device).exists()
    either = (hookups.c.pressure_device == device) | (hookups.c.temperature_device == device)
    used = work.select(hookups, hookups.c.id).where(either).exists()
    return bool(work.connection.execute(sa.select(heard | used)).scalar_one())


def insert_check(work: Work, **values: Any) -> StoredCheck:
    """A new check."""
    return StoredCheck(id=work.insert(checks, **values), **values)


def checks_of(work: Work, devices: Sequence[str]) -> list[StoredCheck]:
    """Every check of some devices, oldest first."""
    statement = work.select(checks).where(checks.c.device.in_(devices))
    return work.all(statement.order_by(checks.c.checked_at, checks.c.id), StoredCheck)


def page_of_checks(work: Work, request: PageRequest, device: str) -> Page[StoredCheck]:
    """A device's checks, newest first."""
    statement = work.select(checks).where(checks.c.device == device)
    return fetch_page(work, statement, checks.c.id, StoredCheck, request, newest_first=True)


def newest_checks(work: Work) -> list[StoredCheck]:
    """The newest check of every device that was ever checked."""
    newest = work.select(checks, sa.func.max(checks.c.id)).group_by(checks.c.device)
    return work.all(work.select(checks).where(checks.c.id.in_(newest)), StoredCheck)


def insert_error(work: Work, **values: Any) -> StoredError:
    """What is believed after a lesson."""
    return StoredError(id=work.insert(errors, **values), **values)


def newest(work: Work, thermometer: str, gauge: str, *, before: int | None = None) -> StoredError | None:
    """What is believed of a set, or was before a row."""
    statement = work.select(errors).where(errors.c.thermometer == thermometer, errors.c.gauge == gauge)
    if before is not None:
        statement = statement.where(errors.c.id < before)
    return work.one(statement.order_by(errors.c.id.desc()).limit(1), StoredError)


def at(work: Work, thermometer: str, gauge: str, moment: datetime) -> StoredError | None:
    """What was believed of a set at a moment."""
    statement = work.select(errors).where(
        errors.c.thermometer == thermometer, errors.c.gauge == gauge, errors.c.at <= moment
    )
    return work.one(statement.order_by(errors.c.id.desc()).limit(1), StoredError)


def lesson_of(work: Work, thermometer: str, gauge: str, cylinder_id: int, epoch: int) -> StoredError | None:
    """What a cylinder's contents have taught a set; each contents teach it once."""
    statement = work.select(errors).where(
        errors.c.cylinder_id == cylinder_id,
        errors.c.epoch == epoch,
        errors.c.thermometer == thermometer,
        errors.c.gauge == gauge,
    )
    return work.one(statement.order_by(errors.c.id).limit(1), StoredError)


def newest_of_all(work: Work, device: str | None = None) -> list[StoredError]:
    """What is believed of every set, or of those with a device, by their names."""
    last = work.select(errors, sa.func.max(errors.c.id)).group_by(errors.c.thermometer, errors.c.gauge)
    statement = work.select(errors).where(errors.c.id.in_(last))
    if device is not None:
        statement = statement.where((errors.c.thermometer == device) | (errors.c.gauge == device))
    return work.all(statement.order_by(errors.c.thermometer, errors.c.gauge), StoredError)


def course(work: Work, thermometer: str, gauge: str, *, limit: int = 200) -> list[StoredError]:
    """What was believed of a set after each of its last lessons, oldest first."""
    statement = work.select(errors).where(errors.c.thermometer == thermometer, errors.c.gauge == gauge)
    return work.all(statement.order_by(errors.c.id.desc()).limit(limit), StoredError)[::-1]


def cylinders_read(work: Work, thermometer: str, gauge: str, *, limit: int) -> list[str]:
    """Serials of the cylinders whose present contents a set has read, newest reading first."""
    own = (pairs.c.temperature_device == thermometer, pairs.c.pressure_device == gauge)
    present = (pairs.c.cylinder_id == cylinders.c.id) & (pairs.c.epoch == cylinders.c.epoch)
    joined = cylinders.join(pairs, present)
    statement = work.select(cylinders, cylinders.c.serial).select_from(joined).where(*own)
    newest_first = statement.group_by(cylinders.c.serial).order_by(sa.func.max(pairs.c.id).desc())
    return [str(serial) for serial in work.connection.execute(newest_first.limit(limit)).scalars()]


def check_by_id(work: Work, check_id: int) -> StoredCheck | None:
    """The check of that id."""
    return work.one(work.select(checks).where(checks.c.id == check_id), StoredCheck)


def checks_by_id(work: Work, ids: Collection[int]) -> dict[int, StoredCheck]:
    """The checks of those ids."""
    if not ids:
        return {}
    return {one.id: one for one in work.all(work.select(checks).where(checks.c.id.in_(ids)), StoredCheck)}


def seen_by_pair(work: Work, ids: Collection[int]) -> dict[int, SeenByPair]:
    """What pairs told; those that were learned from before that was kept are left out."""
    if not ids:
        return {}
    columns = (errors.c.id, errors.c.pair_id, errors.c.seen)
    statement = work.select(errors, *columns).where(errors.c.pair_id.in_(ids)).order_by(errors.c.id)
    found: dict[int, SeenByPair] = {}
    for row_id, pair_id, seen in work.connection.execute(statement):
        if seen is not None:
            first = found[pair_id].first if pair_id in found else row_id
            found[pair_id] = SeenByPair(first, seen)
    return found


def newest_asked(work: Work, thermometer: str, gauge: str) -> StoredError | None:
    """What was believed of a set when the cylinders that it has read were last judged again for it."""
    own = (errors.c.thermometer == thermometer, errors.c.gauge == gauge, errors.c.asked)
    return work.one(work.select(errors).where(*own).order_by(errors.c.id.desc()).limit(1), StoredError)


def lessons_of(work: Work, cylinder_id: int, epoch: int) -> list[StoredError]:
    """The first lesson that a cylinder's contents have taught each set."""
    own = (errors.c.cylinder_id == cylinder_id, errors.c.epoch == epoch)
    first = (
        work.select(errors, sa.func.min(errors.c.id))
        .where(*own)
        .group_by(errors.c.thermometer, errors.c.gauge)
    )
    return work.all(work.select(errors).where(errors.c.id.in_(first)).order_by(errors.c.id), StoredError)


def since(work: Work, thermometer: str, gauge: str, row_id: int, *, limit: int) -> list[StoredError]:
    """A set's lessons from one on, oldest first."""
    own = (errors.c.thermometer == thermometer, errors.c.gauge == gauge, errors.c.id >= row_id)
    return work.all(work.select(errors).where(*own).order_by(errors.c.id).limit(limit), StoredError)


def note_asked(work: Work, row_id: int) -> None:
    """The cylinders that the set has read are to be judged again with what is believed by this row."""
    work.update(errors, errors.c.id == row_id, asked=True)
