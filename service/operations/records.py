"""Use case for the records of a period: what an inspector asks for, out of transfers and exchanges."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta, tzinfo
from decimal import Decimal
from typing import Any

from service.codes import Destination
from service.cylinders.contents import SINGLE_SHARE, UNKNOWN
from service.cylinders.money import Price, stake
from service.operations.checks import price_table
from service.operations.support import balance, calendar
from service.operations.support.context import Actor, Services
from service.operations.support.errors import FieldError, Invalid
from service.paperwork.records import Entry, Records, co2_equivalent_kg
from service.refrigerants.catalogue import Refrigerant, Sourced
from service.store import exchanges, organisations, people, reclaimers, transfers
from service.store import prices as prices_of
from service.store.exchanges import Exchange
from service.store.people import Person
from service.store.reclaimers import Acceptance, Reclaimer
from service.store.transfers import Transfer
from service.store.work import Work

EARLIEST, LATEST = date(1900, 1, 1), date(2199, 12, 31)


@dataclass(frozen=True, slots=True)
class _Known:
    """What entries are completed from, once for all of them."""

    zone: tzinfo
    certified: Mapping[str, Person]
    reclaimers: Mapping[str, Reclaimer]
    accepted: Mapping[int, Acceptance]
    prices: Mapping[str, Price]


def of_period(services: Services, actor: Actor, first: date, last: date) -> Records:
    """
    Records from the first to the last day of a period, both included; days and months are the organisation's.

    Raises
    ------
    Invalid
        When the period ends before it begins, or lies outside the years that a calendar can count.
    """
    if last < first:
        raise Invalid(FieldError("to", last.isoformat(), f"a day not before {first.isoformat()}"))
    for field, day in (("from", first), ("to", last)):
        if not EARLIEST <= day <= LATEST:
            expected = f"a day from {EARLIEST.isoformat()} to {LATEST.isoformat()}"
            raise Invalid(FieldError(field, day.isoformat(), expected))
    with services.database.reading(actor.organisation_id) as work:
        owner = organisations.by_id(work.connection, actor.organisation_id)
        begin, end = calendar.start_of(work, first), calendar.start_of(work, last + timedelta(days=1))
        moved, handed = transfers.between(work, begin, end), exchanges.between(work, begin, end)
        known = _Known(
            calendar.zone(work),
            {one.certification_number: one for one in people.listed(work) if one.certification_number},
            {one.name: one for one in reclaimers.listed(work)},
            reclaimers.acceptances_of(work, [one.id for one in handed]),
            price_table(work),
        )
        currency, law = _currency(work), work.rule_book
        balances = balance.of_period(services, work, begin, end)
    entries = [_of_transfer(services, known, one) for one in moved]
    entries += [_of_exchange(services, known, one) for one in handed]
    # Ordered before they are local: where clocks are set back, local times of one zone do not compare.
    ordered = sorted(entries, key=lambda entry: entry.at)
    local = tuple(replace(entry, at=entry.at.astimezone(known.zone)) for entry in ordered)
    name = owner.name if owner else ""
    return Records(name, first, last, local, currency, str(known.zone), law, balances)


def _currency(work: Work) -> str:
    return next((one.currency for one in prices_of.listed(work)), "")


def named(shares: Mapping[str, float]) -> str:
    """Contents in words: a designation, or the shares of a mixture."""
    parts = sorted(shares.items(), key=lambda item: -item[1])
    if not parts:
        return UNKNOWN
    if parts[0][1] >= SINGLE_SHARE:
        return parts[0][0]
    return "mixed: " + ", ".join(f"{100.0 * share:.1f} % {name}" for name, share in parts)


def _of_transfer(services: Services, known: _Known, one: Transfer) -> Entry:
    equipment: Mapping[str, Any] = one.equipment or {}
    person = known.certified.get(one.certification_number or "")
    kind = "moved" if one.other_cylinder else "recovered" if one.direction == "in" else "charged"
    notes = [one.note] if one.note else []
    if one.other_cylinder:
        notes.append(("from " if one.direction == "in" else "to ") + one.other_cylinder)
    if one.override_reason:
        notes.append(f"decided otherwise than {', '.join(one.overridden or [])}: {one.override_reason}")
    if one.corrects_id:
        notes.append(f"corrects entry {one.corrects_id}")
    entry = Entry(
        kind=kind,
        at=one.occurred_at,
        serial=one.cylinder,
        refrigerant=named(one.shares),
        mass_kg=one.mass_kg,
        technician=one.technician or "",
        certification=one.certification_number or "",
        equipment_owner=str(equipment.get("owner") or ""),
        location=str(equipment.get("location") or ""),
        appliance=str(equipment.get("appliance") or ""),
        circuit=str(equipment.get("circuit") or ""),
        charge_kg=equipment.get("charge_kg"),
        note="; ".join(notes),
    )
    return _completed(services, entry, one.shares, person)


def _of_exchange(services: Services, known: _Known, one: Exchange) -> Entry:
    reclaimed = one.destination == Destination.RECLAIM
    money = stake({name: share * one.net_kg for name, share in one.shares.items()}, known.prices)
    receiver, accepted = known.reclaimers.get(one.counterparty), known.accepted.get(one.id)
    person = known.certified.get(one.certification_number or "")
    amount: Decimal | None = money.credit if reclaimed else -money.charge
    entry = Entry(
        kind="sent-for-reclaim" if reclaimed else "sent-for-destruction",
        at=one.occurred_at,
        serial=one.cylinder,
        refrigerant=named(one.shares),
        mass_kg=one.net_kg,
        technician=one.technician or "",
        certification=one.certification_number or "",
        counterparty=one.counterparty,
        receipt=one.receipt,
        money=None if money.unpriced else amount,
        lost=None if money.unpriced or reclaimed else money.at_stake,
        note=one.note or "",
        counterparty_address=receiver.address if receiver else "",
        counterparty_certification=(receiver.certification_number or "") if receiver else "",
        lot=(accepted.lot or "") if accepted else "",
        their_mass_kg=accepted.net_kg if accepted else None,
        accepted_on=accepted.accepted_at.astimezone(known.zone).date() if accepted else None,
    )
    return _completed(services, entry, one.shares, person)


def _completed(services: Services, entry: Entry, shares: Mapping[str, float], person: Person | None) -> Entry:
    """The entry with its CO2-equivalents and with what the technician's own entry knows of the certification."""
    known = {name: services.catalogue[name] for name in shares if name in services.catalogue}

    def climate(gwp: Callable[[Refrigerant], Sourced[float]]) -> float | None:
        figures = {name: gwp(one).value for name, one in known.items()}
        return co2_equivalent_kg(shares, entry.mass_kg, figures)

    return replace(
        entry,
        co2e_ar4_kg=climate(lambda one: one.gwp_ar4),
        co2e_ar5_kg=climate(lambda one: one.gwp_ar5),
        co2e_ar6_kg=climate(lambda one: one.gwp_ar6),
        certification_type=(person.certification_type or "") if person else "",
        certification_organisation=(person.certification_organisation or "") if person else "",
    )
