"""Records of a period: what was recovered from which equipment, and what was sent for reclaim or destruction.

What an inspector asks of a technician who recovers refrigerant: location and date, type, amounts recovered by
month, amounts sent for reclamation (40 CFR 82.156(a)(3), as an EPA guide of 2021 reports it), to whom and
when (from memory). CO2-equivalent is mass times the 100-year GWP of AR4 and of AR5; what has no figure is
named and not counted as zero.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Final, Literal

Kind = Literal["recovered", "charged", "moved", "sent-for-reclaim", "sent-for-destruction"]
RECOVERED: Final = "recovered"
SENT: Final = ("sent-for-reclaim", "sent-for-destruction")


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of the record; empty text where a field does not apply.

    Parameters
    ----------
    kind : str
        What happened.
    at : datetime
        When, in the owner's time zone.
    serial, refrigerant : str
        Cylinder; designation, ``unknown`` or the shares of a mixture.
    mass_kg : float
        Net mass moved [kg].
    technician, certification : str
        Who, with the certification number.
    equipment_owner, location, appliance, circuit : str
        Equipment it came from or went to.
    charge_kg : float or None
        The equipment's nameplate charge [kg].
    certification_type, certification_organisation : str
        What the technician is certified for, and by whom.
    counterparty, receipt, lot : str
        Supply house or reclaimer, receipt number, the reclaimer's lot.
    counterparty_address, counterparty_certification : str
        Of the reclaimer, by its name.
    their_mass_kg : float or None
        Net mass that the reclaimer accepted [kg].
    accepted_on : date or None
        When.
    co2e_ar4_kg, co2e_ar5_kg, co2e_ar6_kg : float or None
        CO2-equivalent [kg]; None where a GWP is not known.
    money : Decimal or None
        Credit (positive) or charge (negative) by the owner's table.
    lost : Decimal or None
        What destruction cost altogether: the charge, and the credit that clean refrigerant would have brought.
    note : str
        Corrections, overrides and their reasons.
    """

    kind: str
    at: datetime
    serial: str
    refrigerant: str
    mass_kg: float
    technician: str = ""
    certification: str = ""
    equipment_owner: str = ""
    location: str = ""
    appliance: str = ""
    circuit: str = ""
    charge_kg: float | None = None
    counterparty: str = ""
    receipt: str = ""
    co2e_ar4_kg: float | None = None
    co2e_ar5_kg: float | None = None
    co2e_ar6_kg: float | None = None
    money: Decimal | None = None
    lost: Decimal | None = None
    note: str = ""
    certification_type: str = ""
    certification_organisation: str = ""
    counterparty_address: str = ""
    counterparty_certification: str = ""
    lot: str = ""
    their_mass_kg: float | None = None
    accepted_on: date | None = None

    @property
    def difference_kg(self) -> float | None:
        """What the reclaimer accepted less what was sent [kg]."""
        return None if self.their_mass_kg is None else self.their_mass_kg - self.mass_kg


@dataclass(frozen=True, slots=True)
class Balance:
    """
    One refrigerant over a period, by the entries [kg].

    Parameters
    ----------
    opening_kg, closing_kg
        By every entry before and until the end of the period; negative where more went out than the record has.
    recovered_kg, charged_kg, sent_kg
        In the period.
    on_hand_kg
        By the cylinders' present record; None where the period ends before today.
    """

    refrigerant: str
    opening_kg: float
    recovered_kg: float
    charged_kg: float
    sent_kg: float
    closing_kg: float
    on_hand_kg: float | None

    @property
    def unexplained_kg(self) -> float | None:
        """What is on hand and no entry explains [kg]."""
        return None if self.on_hand_kg is None else self.on_hand_kg - self.closing_kg


@dataclass(frozen=True, slots=True)
class Records:
    """Everything of a period, oldest first; money in the owner's currency, days in the owner's time zone."""

    owner: str
    first: date
    last: date
    entries: tuple[Entry, ...]
    currency: str = ""
    time_zone: str = "UTC"
    law: str = "us"
    balances: tuple[Balance, ...] = ()


@dataclass(frozen=True, slots=True)
class Total:
    """Sums of one kind and refrigerant: masses [kg] and CO2-equivalent [kg]."""

    kind: str
    refrigerant: str
    mass_kg: float
    co2e_ar4_kg: float | None
    co2e_ar5_kg: float | None
    co2e_ar6_kg: float | None = None


def co2_equivalent_kg(
    shares: Mapping[str, float], mass_kg: float, gwp: Mapping[str, float | None]
) -> float | None:
    """CO2-equivalent of a mass [kg] by mass fraction; None when one of the figures is not known."""
    total = 0.0
    for name, share in shares.items():
        figure = gwp.get(name)
        if figure is None:
            return None
        total += share * figure
    return total * mass_kg if shares else None


def totals(entries: Iterable[Entry]) -> list[Total]:
    """Sums by kind and refrigerant; a sum with an unknown part is unknown."""
    sums: dict[tuple[str, str], Total] = {}
    for entry in entries:
        key = (entry.kind, entry.refrigerant)
        old = sums.get(key, Total(*key, 0.0, 0.0, 0.0, 0.0))
        sums[key] = Total(
            *key,
            old.mass_kg + entry.mass_kg,
            _plus(old.co2e_ar4_kg, entry.co2e_ar4_kg),
            _plus(old.co2e_ar5_kg, entry.co2e_ar5_kg),
            _plus(old.co2e_ar6_kg, entry.co2e_ar6_kg),
        )
    return [sums[key] for key in sorted(sums)]


def monthly(entries: Iterable[Entry], kind: str = RECOVERED) -> list[tuple[str, str, float]]:
    """Month, refrigerant and mass [kg] of a kind, which is the form an inspector asks for."""
    sums: dict[tuple[str, str], float] = {}
    for entry in entries:
        if entry.kind == kind:
            key = (f"{entry.at:%Y-%m}", entry.refrigerant)
            sums[key] = sums.get(key, 0.0) + entry.mass_kg
    return [(month, name, sums[month, name]) for month, name in sorted(sums)]


def money_sums(entries: Iterable[Entry]) -> dict[str, Decimal]:
    """Credited for reclaim, charged for destruction, lost by destruction."""
    sums = {"credited": Decimal(0), "charged": Decimal(0), "lost": Decimal(0)}
    for entry in entries:
        amount = entry.money or Decimal(0)
        sums["credited" if amount > 0 else "charged"] += abs(amount)
        sums["lost"] += entry.lost or Decimal(0)
    return sums


def _plus(left: float | None, right: float | None) -> float | None:
    return None if left is None or right is None else left + right
