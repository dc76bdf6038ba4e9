"""Use case for the records of a period: what an inspector asks for, out of transfers and exchanges."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from service.cylinders.contents import SINGLE_SHARE, UNKNOWN
from service.cylinders.money import Price, stake
from service.operations import calendar
from service.operations.checks import price_table
from service.operations.context import Actor, Services
from service.operations.errors import FieldError, Invalid
from service.paperwork.records import Entry, Records, co2_equivalent_kg
from service.store import exchanges, organisations, transfers
from service.store import prices as prices_of
from service.store.exchanges import Exchange
from service.store.transfers import Transfer
from service.store.work import Work


def of_period(services: Services, actor: Actor, first: date, last: date) -> Records:
    """
    Records from the first to the last day of a period, both included; days and months are the organisation's.

    Raises
    ------
    Invalid
        When the period ends before it begins.
    """
    if last < first:
        raise Invalid(FieldError("to", last.isoformat(), f"a day not before {first.isoformat()}"))
    with services.database.reading(actor.organisation_id) as work:
        owner = organisations.by_id(work.connection, actor.organisation_id)
        begin, end = calendar.start_of(work, first), calendar.start_of(work, last + timedelta(days=1))
        moved = transfers.between(work, begin, end)
        handed = exchanges.between(work, begin, end)
        prices, currency = price_table(work), _currency(work)
        zone = calendar.zone(work)
    entries = [_of_transfer(services, one) for one in moved]
    entries += [_of_exchange(services, prices, one) for one in handed]
    # Ordered before they are local: where clocks are set back, local times of one zone do not compare.
    ordered = sorted(entries, key=lambda entry: entry.at)
    local = tuple(replace(entry, at=entry.at.astimezone(zone)) for entry in ordered)
    return Records(owner.name if owner else "", first, last, local, currency, str(zone))


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


def _of_transfer(services: Services, one: Transfer) -> Entry:
    equipment: Mapping[str, Any] = one.equipment or {}
    ar4, ar5 = _climate(services, one.shares, one.mass_kg)
    kind = "moved" if one.other_cylinder else "recovered" if one.direction == "in" else "charged"
    notes = [one.note] if one.note else []
    if one.other_cylinder:
        notes.append(("from " if one.direction == "in" else "to ") + one.other_cylinder)
    if one.override_reason:
        notes.append(f"decided otherwise than {', '.join(one.overridden or [])}: {one.override_reason}")
    if one.corrects_id:
        notes.append(f"corrects entry {one.corrects_id}")
    return Entry(
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
        co2e_ar4_kg=ar4,
        co2e_ar5_kg=ar5,
    )


def _of_exchange(services: Services, prices: Mapping[str, Price], one: Exchange) -> Entry:
    reclaimed = one.destination == "reclaim"
    money = stake({name: share * one.net_kg for name, share in one.shares.items()}, prices)
    ar4, ar5 = _climate(services, one.shares, one.net_kg)
    amount: Decimal | None = money.credit if reclaimed else -money.charge
    return Entry(
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
        co2e_ar4_kg=ar4,
        co2e_ar5_kg=ar5,
    )


def _climate(
    services: Services, shares: Mapping[str, float], mass_kg: float
) -> tuple[float | None, float | None]:
    """CO2-equivalent by AR4 and by AR5 [kg]."""
    known = {name: services.catalogue[name] for name in shares if name in services.catalogue}
    return (
        co2_equivalent_kg(shares, mass_kg, {name: one.gwp_ar4.value for name, one in known.items()}),
        co2_equivalent_kg(shares, mass_kg, {name: one.gwp_ar5.value for name, one in known.items()}),
    )
