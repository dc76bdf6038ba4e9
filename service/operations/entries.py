"""What was entered on a phone without coverage, taken at its own time, once, or refused with a reason."""

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta

from service.operations import cylinders, holds, transfers
from service.operations.support import calendar, contents
from service.operations.support.context import Actor, Services
from service.operations.support.errors import Conflict, Reason
from service.operations.support.lookup import by_serial
from service.operations.transfer_entry import NewTransfer
from service.store import cylinders as stored
from service.store import idempotency

OLDEST = timedelta(days=30)
"""Keys of what was taken are kept for 31 days; past it nobody can tell whether it was."""
TAKEN, DIGEST = 204, "entry"


def once(
    services: Services, actor: Actor, key: str, at: datetime, take: Callable[[datetime], object]
) -> bool:
    """
    Take an entry, unless its key was taken before.

    Parameters
    ----------
    services, actor
        What may be used, who entered it.
    key
        Made by the phone with the entry.
    at
        When it was entered, by the phone's clock.
    take
        Is given that time, at latest now; what it writes commits with the key, and a refusal leaves both.

    Returns
    -------
    bool
        Whether it was taken now.

    Raises
    ------
    Conflict
        When it is too old to tell whether it was taken already.
    """
    now = services.now()
    moment = calendar.moment("at", at, now)
    if now - moment > OLDEST:
        text = f"Entered {(now - moment).days} days ago; see whether it is recorded already."
        raise Conflict([Reason("entry-too-old", text)])
    with services.database.writing(actor.organisation_id) as work:
        if idempotency.claim(work, key, DIGEST, now) is not None:
            return False
        take(moment)
        idempotency.answer(work, key, status=TAKEN, headers="{}", body=b"")
    return True


def weigh(services: Services, actor: Actor, serial: str, gross_kg: float, at: datetime) -> None:
    """
    Take a weight that the scale showed at a moment.

    Raises
    ------
    Conflict
        When the cylinder was weighed since, or something went in or out: the weight says nothing about now.
    """
    with services.database.writing(actor.organisation_id) as work:
        cylinder = by_serial(work, serial, lock=True)
        if cylinder.gross_mass_at is not None and at <= cylinder.gross_mass_at:
            raise Conflict([Reason("weighed-since", f"{serial} was weighed again since.")])
        if at < contents.acted_at(stored.epoch_of(work, cylinder, cylinder.epoch)):
            text = f"Something went into {serial} or out of it since. Weigh it again."
            raise Conflict([Reason("acted-since", text)])
        cylinders.correct(
            services, actor, serial, {"gross_mass_kg": gross_kg}, lambda _now: True, weighed_at=at
        )


def move(services: Services, actor: Actor, new: NewTransfer, at: datetime) -> None:
    """
    Record a transfer that was done at a moment, by the rules as they stand now.

    One that ``has_happened`` is recorded whatever it breaks, after everything that is on record.

    Raises
    ------
    Conflict
        When a rule is broken; when the contents changed or the cylinder was weighed since: what it adds up to
        cannot be told.
    """
    with services.database.writing(actor.organisation_id) as work:
        cylinder = by_serial(work, new.serial, lock=True)
        epoch = stored.epoch_of(work, cylinder, cylinder.epoch)
        if new.has_happened:
            at = max(at, epoch.started_at)
        elif at < epoch.started_at:
            text = f"The contents of {new.serial} changed after this was entered."
            raise Conflict([Reason("acted-since", text)])
        elif contents.weighed_after(cylinder, epoch, at):
            raise Conflict([Reason("weighed-since", f"{new.serial} was weighed again since.")])
        transfers.record(services, actor, replace(new, occurred_at=at))


def set_aside(services: Services, actor: Actor, key: str, serial: str, reason: str) -> None:
    """Put a cylinder on hold, once for one entry: a fill of it was refused, and may be in it all the same."""
    with services.database.writing(actor.organisation_id) as work:
        now, held = services.now(), f"{key}-held"
        if idempotency.claim(work, held, DIGEST, now) is None:
            holds.put(work, actor, now, by_serial(work, serial, lock=True), reason)
            idempotency.answer(work, held, status=TAKEN, headers="{}", body=b"")
