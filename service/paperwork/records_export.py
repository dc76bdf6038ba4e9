"""Records as a JSON document and as CSV; what the law asks for and an entry lacks is listed beside them."""

import csv
import io
import json
from collections.abc import Sequence
from decimal import Decimal
from typing import Any, Final

from service.cylinders.books import BOOKS
from service.paperwork.records import Balance, Entry, Records, Total, money_sums, monthly, totals
from service.paperwork.records_gaps import gaps
from service.units import lb_from_kg


def as_json(records: Records) -> str:
    """The records as a JSON document, in both unit systems."""
    missing = gaps(records.entries, records.law)
    document = {
        "owner": records.owner,
        "from": records.first.isoformat(),
        "to": records.last.isoformat(),
        "time_zone": records.time_zone,
        "entries": [_entry_document(entry) for entry in records.entries],
        "money": _money_document(records),
        "law": records.law,
        "complete": not missing and "records" not in BOOKS[records.law].missing,
        "gaps": [
            {
                "entry": gap.entry,
                "cylinder": gap.serial,
                "field": gap.field,
                "missing": gap.what,
                "rule": gap.rule,
            }
            for gap in missing
        ],
        "law_not_read": BOOKS[records.law].missing.get("records"),
        "balances": [_balance_document(balance) for balance in records.balances],
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
    "receipt", "co2e_ar4_kg", "co2e_ar5_kg", "money", "lost", "note", "co2e_ar6_kg", "certification_type",
    "certification_organisation", "counterparty_address", "counterparty_certification", "lot", "their_mass_kg",
    "difference_kg", "accepted_on",
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
        _amount(entry.money), _amount(entry.lost), entry.note, _rounded(entry.co2e_ar6_kg),
        entry.certification_type, entry.certification_organisation, entry.counterparty_address,
        entry.counterparty_certification, entry.lot, _rounded(entry.their_mass_kg),
        _rounded(entry.difference_kg), entry.accepted_on.isoformat() if entry.accepted_on else None,
    )  # fmt: skip
    return dict(zip(COLUMNS, values, strict=True))


def _total_document(total: Total) -> dict[str, Any]:
    return {
        "kind": total.kind, "refrigerant": total.refrigerant, "mass_kg": round(total.mass_kg, 3),
        "mass_lb": round(lb_from_kg(total.mass_kg), 2), "co2e_ar4_kg": _rounded(total.co2e_ar4_kg),
        "co2e_ar5_kg": _rounded(total.co2e_ar5_kg), "co2e_ar6_kg": _rounded(total.co2e_ar6_kg),
    }  # fmt: skip


def _money_document(records: Records) -> dict[str, Any]:
    """Credits, charges and losses of the period; what has no price is not in them."""
    sums = money_sums(records.entries)
    return {"currency": records.currency or None, **{name: float(amount) for name, amount in sums.items()}}


def _balance_document(balance: Balance) -> dict[str, Any]:
    """A refrigerant's balance; null where the period ends before today and nothing on hand can be compared."""
    figures = {
        "opening_kg": balance.opening_kg,
        "recovered_kg": balance.recovered_kg,
        "charged_kg": balance.charged_kg,
        "sent_kg": balance.sent_kg,
        "closing_kg": balance.closing_kg,
        "on_hand_kg": balance.on_hand_kg,
        "unexplained_kg": balance.unexplained_kg,
    }
    return {"refrigerant": balance.refrigerant, **{name: _rounded(kg) for name, kg in figures.items()}}


def _amount(value: Decimal | None) -> float | None:
    return None if value is None else float(value)


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 2)
