"""Use cases for instruments: note a check by hand, what is believed now, and which checks are due."""

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Final

from service.codes import CheckMethod, CheckQuantity
from service.operations import instrument_errors
from service.operations.support import calendar
from service.operations.support.context import Actor, Services, tell
from service.operations.support.errors import FieldError, Invalid, NotFound
from service.operations.support.events import INSTRUMENT_CHECKED
from service.store import instruments
from service.store.instruments import StoredCheck, StoredError
from service.store.paging import Page, PageRequest
from service.store.work import Work
from service.verdict.instruments import belief as beliefs
from service.verdict.instruments.belief import ErrorBelief
from service.verdict.instruments.checks import ICE_BATH_K, OPEN_AIR_PA
from service.verdict.instruments.document import from_json

METHODS: Final[tuple[str, ...]] = tuple(CheckMethod)
QUANTITIES: Final[tuple[str, ...]] = tuple(CheckQuantity)
_ONLY: Final = {"ice-bath": "temperature_k", "open-air": "zero_pa"}
_USUAL: Final = {"ice-bath": ICE_BATH_K, "open-air": OPEN_AIR_PA}
USUAL_SPAN: Final = {"certificate": timedelta(days=365)}
CHECKED_AGAIN: Final = timedelta(days=91)
"""A check by hand every quarter and a certificate every year (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class NewCheck:
    """
    What a check by hand found.

    Parameters
    ----------
    device
        Name, as in hookups.
    method
        One of ``METHODS``.
    quantity
        One of ``QUANTITIES``.
    error, uncertainty
        What was shown less what is true, and its standard uncertainty, [K] or [Pa]; an ice bath and open air have
        their usual one where none is stated.
    pressure_pa
        Where a gauge was compared, absolute [Pa].
    checked_at, due_at
        When, now where nothing is stated; when the next one is due.
    certificate, note
        Its number; anything else.
    """

    device: str
    method: str
    quantity: str
    error: float
    uncertainty: float | None = None
    pressure_pa: float | None = None
    checked_at: datetime | None = None
    due_at: datetime | None = None
    certificate: str | None = None
    note: str | None = None


@dataclass(frozen=True, slots=True)
class SetError:
    """What is believed of one thermometer with one gauge at a time; ``row`` is its last lesson."""

    row: StoredError
    belief: ErrorBelief


@dataclass(frozen=True, slots=True)
class Instrument:
    """A device with the sets that it belongs to, its last check and when the next is due."""

    device: str
    sets: tuple[SetError, ...]
    last_check: StoredCheck | None
    due_at: datetime | None
    overdue: bool


def check(services: Services, actor: Actor, new: NewCheck) -> StoredCheck:
    """
    Note a check by hand, and let it teach every set of the device.

    Raises
    ------
    Invalid
        When method and quantity do not go together, something is missing, or it lies in the future.
    NotFound
        When the device was never heard of or hooked up.
    """
    uncertainty = _checked(new)
    with services.database.writing(actor.organisation_id) as work:
        _known(work, new.device)
        now = services.now()
        checked_at = calendar.moment("checked_at", new.checked_at, now)
        done = instruments.insert_check(
            work,
            device=new.device,
            method=new.method,
            quantity=new.quantity,
            error=new.error,
            uncertainty=uncertainty,
            pressure_pa=new.pressure_pa,
            certificate=new.certificate,
            note=new.note,
            due_at=new.due_at or checked_at + USUAL_SPAN.get(new.method, CHECKED_AGAIN),
            checked_at=checked_at,
            recorded_at=now,
            recorded_by=actor.name,
        )
        instrument_errors.check(work, actor, now, done)
        _tell(work, actor, now, done)
        return done


def note_idle(
    services: Services,
    work: Work,
    actor: Actor,
    device: str,
    method: str,
    quantity: str,
    error: float,
    uncertainty: float,
    at: datetime,
) -> None:
    """Note what a device showed while nobody used it, in somebody else's transaction; it puts off no check by hand."""
    now, earlier = services.now(), instruments.checks_of(work, [device])
    done = instruments.insert_check(
        work,
        device=device,
        method=method,
        quantity=quantity,
        error=error,
        uncertainty=uncertainty,
        pressure_pa=None,
        certificate=None,
        note=None,
        due_at=earlier[-1].due_at if earlier else None,
        checked_at=at,
        recorded_at=now,
        recorded_by=actor.name,
    )
    instrument_errors.check(work, actor, now, done)
    _tell(work, actor, now, done)


def _tell(work: Work, actor: Actor, now: datetime, done: StoredCheck) -> None:
    told = {"device": done.device, "check": done.id, "method": done.method, "quantity": done.quantity}
    told = {**told, "error": done.error, "uncertainty": done.uncertainty}
    tell(work, actor, now, INSTRUMENT_CHECKED, f"instruments/{done.device}", told)


def _checked(new: NewCheck) -> float:
    """The uncertainty of a check that can be used."""
    only = _ONLY.get(new.method, new.quantity)
    if new.method not in METHODS:
        raise Invalid(FieldError("method", new.method, f"one of {', '.join(METHODS)}"))
    if new.quantity not in QUANTITIES or new.quantity != only:
        expected = only if new.method in _ONLY else f"one of {', '.join(QUANTITIES)}"
        raise Invalid(FieldError("quantity", new.quantity, expected))
    if new.quantity == "pressure_pa" and new.pressure_pa is None:
        raise Invalid(FieldError("pressure", None, "the absolute pressure at which it was compared"))
    uncertainty = _USUAL.get(new.method) if new.uncertainty is None else new.uncertainty
    if uncertainty is None or uncertainty <= 0:
        raise Invalid(FieldError("uncertainty", new.uncertainty, "a standard uncertainty above zero"))
    return uncertainty


def checks(services: Services, actor: Actor, device: str, request: PageRequest) -> Page[StoredCheck]:
    """A device's checks, newest first."""
    with services.database.reading(actor.organisation_id) as work:
        _known(work, device)
        return instruments.page_of_checks(work, request, device)


def listed(services: Services, actor: Actor) -> list[Instrument]:
    """Every device of which something is believed or that was checked, those in doubt first."""
    now = services.now()
    with services.database.reading(actor.organisation_id) as work:
        sets = [_set(row, now) for row in instruments.newest_of_all(work)]
        last = {one.device: one for one in instruments.newest_checks(work)}
    names = {name for one in sets for name in (one.row.thermometer, one.row.gauge)} | set(last)
    found = [_instrument(name, sets, last.get(name), now) for name in names]
    return sorted(found, key=lambda one: (-max((s.belief.doubt for s in one.sets), default=0.0), one.device))


def read(services: Services, actor: Actor, device: str) -> Instrument:
    """
    One device.

    Raises
    ------
    NotFound
        When it was never heard of or hooked up.
    """
    now = services.now()
    with services.database.reading(actor.organisation_id) as work:
        _known(work, device)
        sets = [_set(row, now) for row in instruments.newest_of_all(work, device)]
        done = instruments.checks_of(work, [device])
    return _instrument(device, sets, done[-1] if done else None, now)


def errors_at(services: Services, actor: Actor, device: str, at: datetime | None) -> list[SetError]:
    """What was believed at a time of every set with a device; now where no time is stated."""
    moment = services.now() if at is None else at
    with services.database.reading(actor.organisation_id) as work:
        _known(work, device)
        return [_set(row, moment) for row in _rows_at(work, device, moment)]


def course(services: Services, actor: Actor, thermometer: str, gauge: str) -> list[StoredError]:
    """What was believed of a set after each of its lessons, oldest first."""
    with services.database.reading(actor.organisation_id) as work:
        return instruments.course(work, thermometer, gauge)


def _known(work: Work, device: str) -> None:
    if not instruments.known(work, device):
        raise NotFound("instrument", device)


def _rows_at(work: Work, device: str, moment: datetime) -> list[StoredError]:
    newest = instruments.newest_of_all(work, device)
    rows = (instruments.at(work, row.thermometer, row.gauge, moment) for row in newest)
    return [row for row in rows if row is not None]


def _set(row: StoredError, now: datetime) -> SetError:
    belief = beliefs.aged(from_json(row.belief), (now - row.at).total_seconds())
    mean, spread = belief.combined_k()
    return SetError(replace(row, combined_k=mean, uncertainty_k=spread, doubt=belief.doubt), belief)


def _instrument(name: str, sets: list[SetError], last: StoredCheck | None, now: datetime) -> Instrument:
    own = tuple(one for one in sets if name in (one.row.thermometer, one.row.gauge))
    due = None if last is None else last.due_at
    return Instrument(name, own, last, due, due is not None and due <= now)
