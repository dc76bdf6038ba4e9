"""What is at stake, by the owner's own table: credit for what is reclaimed, charge for what is destroyed."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

_CENT = Decimal("0.01")


@dataclass(frozen=True, slots=True)
class Price:
    """The owner's prices for one designation, per kilogram, in the owner's currency."""

    credit_per_kg: Decimal
    charge_per_kg: Decimal


@dataclass(frozen=True, slots=True)
class Stake:
    """Money at stake in one cylinder or lost in a period.

    Parameters
    ----------
    credit : Decimal
        What clean contents would bring.
    charge : Decimal
        What their destruction costs.
    at_stake : Decimal
        Both together: the difference that a mistake makes.
    unpriced : tuple of str
        Designations that the table does not have.
    """

    credit: Decimal
    charge: Decimal
    at_stake: Decimal
    unpriced: tuple[str, ...] = ()


def stake(masses_kg: Mapping[str, float], prices: Mapping[str, Price]) -> Stake:
    """Money at stake in masses by designation [kg]; what has no price is named, not guessed."""
    credit = charge = Decimal(0)
    for name, mass in masses_kg.items():
        price = prices.get(name)
        if price is not None:
            credit += Decimal(str(mass)) * price.credit_per_kg
            charge += Decimal(str(mass)) * price.charge_per_kg
    credit, charge = _money(credit), _money(charge)
    return Stake(credit, charge, credit + charge, _unpriced(masses_kg, prices))


def _unpriced(names: Iterable[str], prices: Mapping[str, Price]) -> tuple[str, ...]:
    return tuple(sorted(name for name in names if name not in prices))


def _money(value: Decimal) -> Decimal:
    return value.quantize(_CENT, ROUND_HALF_UP)
