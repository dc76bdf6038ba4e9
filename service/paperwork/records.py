"""Records of a period: what was recovered from which equipment, and what was sent for reclaim or destruction.

What an inspector asks of a technician who recovers refrigerant: location and date, type, amounts recovered by
month, amounts sent for reclamation (40 CFR 82.156(a)(3), as an EPA guide of 2021 reports it), to whom and
when (from memory). CO2-equivalent is mass times the 100-year GWP of AR4 and of AR5; what has no figure is
named and not counted as zero.
"""

import csv
import io
import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any, Final, Literal

from service.units import lb_from_kg

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
    counterparty, receipt : str
        Supply house or reclaimer, receipt number.
    co2e_ar4_kg, co2e_ar5_kg : float or None
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
    money: Decimal | None = None
    lost: Decimal | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class Records:
    """Everything of a period, oldest first; money in the owner's currency, days in the owner's time zone."""

    owner: str
    first: date
    last: date
    entries: tuple[Entry, ...]
    currency: str = ""
    time_zone: str = "UTC"


@dataclass(frozen=True, slots=True)
class Total:
    """Sums of one kind and refrigerant: masses [kg] and CO2-equivalent [kg]."""

    kind: str
    refrigerant: str
    mass_kg: float
    co2e_ar4_kg: float | None
    co2e_ar5_kg: float | None


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
        old = sums.get(key, Total(*key, 0.0, 0.0, 0.0))
        sums[key] = Total(
            *key,
            old.mass_kg + entry.mass_kg,
            _plus(old.co2e_ar4_kg, entry.co2e_ar4_kg),
            _plus(old.co2e_ar5_kg, entry.co2e_ar5_kg),
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


def as_json(records: Records) -> str:
    """The records as a JSON document, in both unit systems."""
    document = {
        "owner": records.owner,
        "from": records.first.isoformat(),
        "to": records.last.isoformat(),
        "time_zone": records.time_zone,
        "entries": [_entry_document(entry) for entry in records.entries],
        "money": _money_document(records),
        "totals": [_total_document(total) for total in totals(records.entries)],
        "recovered_by_month": [
            {
                "month": month,
                "refrigerant": name,
                "mass_kg": round(kg, 3),
                "mass_lb": round(lb_from_kg(kg), 2),
            }
            for month, name, kg in monthly(records.entries)
        ],
    }
    return json.dumps(document, ensure_ascii=False, indent=1)


COLUMNS: Final = (
    "kind", "at", "cylinder", "refrigerant", "mass_kg", "mass_lb", "technician", "certification_number",
    "equipment_owner", "location", "appliance", "circuit", "charge_kg", "charge_lb", "counterparty",
    "receipt", "co2e_ar4_kg", "co2e_ar5_kg", "money", "lost", "note",
)  # fmt: skip


def as_csv(records: Records) -> str:
    """The entries as CSV (RFC 4180), one line each."""
    buffer = io.StringIO()
    writer = csv.DictWriter(buffer, COLUMNS, lineterminator="\r\n")
    writer.writeheader()
    for entry in records.entries:
        writer.writerow({key: _cell(value) for key, value in _entry_document(entry).items()})
    return buffer.getvalue()


def _cell(value: Any) -> Any:
    """A cell that no spreadsheet takes for a formula."""
    if isinstance(value, str) and value[:1] in {"=", "+", "-", "@", "\t", "\r"}:
        return "'" + value
    return "" if value is None else value


def _entry_document(entry: Entry) -> dict[str, Any]:
    values: Sequence[Any] = (
        entry.kind, entry.at.isoformat(), entry.serial, entry.refrigerant,
        round(entry.mass_kg, 3), round(lb_from_kg(entry.mass_kg), 2), entry.technician, entry.certification,
        entry.equipment_owner, entry.location, entry.appliance, entry.circuit,
        _rounded(entry.charge_kg), _rounded(None if entry.charge_kg is None else lb_from_kg(entry.charge_kg)),
        entry.counterparty, entry.receipt, _rounded(entry.co2e_ar4_kg), _rounded(entry.co2e_ar5_kg),
        _amount(entry.money), _amount(entry.lost), entry.note,
    )  # fmt: skip
    return dict(zip(COLUMNS, values, strict=True))


def _total_document(total: Total) -> dict[str, Any]:
    return {
        "kind": total.kind, "refrigerant": total.refrigerant, "mass_kg": round(total.mass_kg, 3),
        "mass_lb": round(lb_from_kg(total.mass_kg), 2), "co2e_ar4_kg": _rounded(total.co2e_ar4_kg),
        "co2e_ar5_kg": _rounded(total.co2e_ar5_kg),
    }  # fmt: skip


def _money_document(records: Records) -> dict[str, Any]:
    """Credits, charges and losses of the period; what has no price is not in them."""
    sums = money_sums(records.entries)
    return {"currency": records.currency or None, **{name: float(amount) for name, amount in sums.items()}}


def money_sums(entries: Iterable[Entry]) -> dict[str, Decimal]:
    """Credited for reclaim, charged for destruction, lost by destruction."""
    sums = {"credited": Decimal(0), "charged": Decimal(0), "lost": Decimal(0)}
    for entry in entries:
        amount = entry.money or Decimal(0)
        sums["credited" if amount > 0 else "charged"] += abs(amount)
        sums["lost"] += entry.lost or Decimal(0)
    return sums


def _amount(value: Decimal | None) -> float | None:
    return None if value is None else float(value)


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 2)


def _plus(left: float | None, right: float | None) -> float | None:
    return None if left is None or right is None else left + right
