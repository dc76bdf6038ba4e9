"""Which day it is: by the organisation's time zone, never the machine's. Every date of the service comes from here."""

from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo, available_timezones

from service.operations.support.context import Actor, Services
from service.operations.support.errors import FieldError, Invalid
from service.store.work import Work

AHEAD = timedelta(seconds=60)
"""So far somebody's clock may be ahead of this one."""


def moment(field: str, stated: datetime | None, at: datetime) -> datetime:
    """
    When something happened: as stated, at latest now, now where nothing is stated.

    ``at`` is taken inside the lock of the cylinder, so that entries of one instant keep their order.

    Raises
    ------
    Invalid
        When it lies further ahead than clocks differ.
    """
    if stated is None:
        return at
    if stated > at + AHEAD:
        raise Invalid(FieldError(field, stated.isoformat(), "must not be in the future"))
    return min(stated, at)


def zone(work: Work) -> ZoneInfo:
    """The organisation's time zone."""
    return ZoneInfo(work.time_zone)


def local_date(work: Work, at: datetime) -> date:
    """The organisation's day at an instant."""
    return at.astimezone(zone(work)).date()


def today(services: Services, work: Work) -> date:
    """The organisation's present day."""
    return local_date(work, services.now())


def today_of(services: Services, actor: Actor) -> date:
    """The present day, for a caller without a transaction."""
    with services.database.reading(actor.organisation_id) as work:
        return today(services, work)


def start_of(work: Work, day: date) -> datetime:
    """The instant at which a day of the organisation begins; days are 23 to 25 hours long."""
    return datetime.combine(day, time.min, zone(work))


def known_zone(name: str) -> str:
    """
    A time zone's name as it is kept.

    Raises
    ------
    Invalid
        When there is no such zone.
    """
    if name not in available_timezones():
        raise Invalid(FieldError("time_zone", name, "an IANA time zone such as America/Denver"))
    return name
