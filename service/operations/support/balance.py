"""The balance of each refrigerant over a period: in, out, on hand, and what nothing explains."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import UTC, datetime

from service.codes import Standing
from service.cylinders.contents import UNKNOWN
from service.operations.support import contents
from service.operations.support.context import Services
from service.paperwork.records import Balance
from service.store import cylinders, exchanges, transfers
from service.store.exchanges import Exchange
from service.store.transfers import Transfer
from service.store.work import Work

BEGINNING = datetime(1900, 1, 1, tzinfo=UTC)
Masses = Mapping[str, float]


def of_period(services: Services, work: Work, begin: datetime, end: datetime) -> tuple[Balance, ...]:
    """
    Balances from one instant to another, by designation; a mixture counts by its shares.

    On hand is the present record of every cylinder in service, so it is compared only where the period reaches to now.
    """
    moved = transfers.between(work, BEGINNING, end)
    handed = exchanges.between(work, BEGINNING, end)
    before = _sums(_signed(moved, handed, before=begin))
    recovered = _sums(_of(moved, "in", begin))
    charged = _sums(_of(moved, "out", begin))
    sent = _sums((_named(one), one.net_kg) for one in handed if one.occurred_at >= begin)
    on_hand = _on_hand(work) if end > services.now() else None
    names = {*before, *recovered, *charged, *sent, *(on_hand or {})}
    return tuple(
        Balance(
            refrigerant=name,
            opening_kg=before.get(name, 0.0),
            recovered_kg=recovered.get(name, 0.0),
            charged_kg=charged.get(name, 0.0),
            sent_kg=sent.get(name, 0.0),
            closing_kg=before.get(name, 0.0)
            + recovered.get(name, 0.0)
            - charged.get(name, 0.0)
            - sent.get(name, 0.0),
            on_hand_kg=None if on_hand is None else on_hand.get(name, 0.0),
        )
        for name in sorted(names)
    )


def _of(moved: Iterable[Transfer], direction: str, begin: datetime) -> Iterable[tuple[Masses, float]]:
    """Transfers of a direction from an instant on, moves between the shop's own cylinders left out."""
    return (
        (one.shares, one.mass_kg)
        for one in moved
        if one.direction == direction and one.other_cylinder is None and one.occurred_at >= begin
    )


def _signed(
    moved: Iterable[Transfer], handed: Iterable[Exchange], *, before: datetime
) -> Iterable[tuple[Masses, float]]:
    for one in moved:
        if one.other_cylinder is None and one.occurred_at < before:
            yield one.shares, one.mass_kg if one.direction == "in" else -one.mass_kg
    for sent in handed:
        if sent.occurred_at < before:
            yield _named(sent), -sent.net_kg


def _named(sent: Exchange) -> Masses:
    """Shares of what was handed over; nothing is lost where nobody knew what it was."""
    return sent.shares or {UNKNOWN: 1.0}


def _on_hand(work: Work) -> dict[str, float]:
    """What the record has in every cylinder in service, by designation [kg]."""
    rows = [row for row in cylinders.everything(work) if row.standing == Standing.IN_SERVICE]
    epochs = cylinders.present_epochs(work, [row.id for row in rows])
    held = (contents.read(row, epochs[row.id]) for row in rows)
    return _sums((one.shares or {UNKNOWN: 1.0}, one.mass_kg or 0.0) for one in held if not one.is_empty)


def _sums(entries: Iterable[tuple[Masses, float]]) -> dict[str, float]:
    sums: dict[str, float] = defaultdict(float)
    for shares, mass_kg in entries:
        for name, share in shares.items():
            sums[name] += share * mass_kg
    return dict(sums)
