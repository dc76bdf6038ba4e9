"""What an inspector would miss in a record: each gap named with its entry and the rule that asks for it."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from service.paperwork.records import RECOVERED, SENT, Entry

_RECOVERY_US: Final = "40 CFR 82.156(a)(3), as an EPA guide of 2021 reports it"
_SENT_US: Final = "40 CFR 82.156(a)(3) and 82.166 (from memory)"
_TECHNICIAN_US: Final = "40 CFR 82.161 (from memory)"
_EU: Final = "Regulation (EU) 2024/573 article 7 (from memory; article 6 of 517/2014 as a summary reports it)"
_ASKED: Final = {
    "us": {
        RECOVERED: (
            ("location", "where it was recovered", _RECOVERY_US),
            ("appliance", "which appliance it came from", _RECOVERY_US),
            ("technician", "who recovered it", _TECHNICIAN_US),
            ("certification", "the technician's certification number", _TECHNICIAN_US),
            ("certification_type", "the technician's certification type", _TECHNICIAN_US),
        ),
        "charged": (
            ("appliance", "which appliance it went into", "40 CFR 82.157 (from memory)"),
            ("charge_kg", "the appliance's full charge", "40 CFR 82.157 (from memory)"),
        ),
        "sent": (
            ("counterparty_address", "the reclaimer's address", _SENT_US),
            ("counterparty_certification", "the reclaimer's certification number", _SENT_US),
            ("receipt", "the receipt", _SENT_US),
            ("their_mass_kg", "the weight that the reclaimer accepted", "good practice, no source"),
        ),
    },
    "eu": {
        RECOVERED: (
            ("appliance", "which equipment it came from", _EU),
            ("location", "where the equipment stands", _EU),
            ("charge_kg", "the equipment's quantity of gas", _EU),
            ("technician", "who recovered it", _EU),
            ("certification", "the certificate's number", _EU),
            ("certification_organisation", "the undertaking that is certified", _EU),
        ),
        "charged": (
            ("appliance", "which equipment it went into", _EU),
            ("charge_kg", "the equipment's quantity of gas", _EU),
        ),
        "sent": (
            ("counterparty_address", "the facility's address", _EU),
            ("counterparty_certification", "the facility's certificate number", _EU),
            ("receipt", "the receipt", _EU),
        ),
    },
}
_TYPE: Final = {"us": _RECOVERY_US, "eu": _EU}


@dataclass(frozen=True, slots=True)
class Gap:
    """One thing that an entry lacks: the entry's number in the record from 1, the field, in words, and the rule."""

    entry: int
    serial: str
    field: str
    what: str
    rule: str


def gaps(entries: Iterable[Entry], law: str) -> tuple[Gap, ...]:
    """
    Everything that the law's records ask for and the entries lack.

    Parameters
    ----------
    entries
        As in the record, numbered from 1.
    law
        Rule book; one without records of its own here gives no gaps, and the record says that it was not read.
    """
    asked, found = _ASKED.get(law, {}), []
    for number, entry in enumerate(entries, 1):
        kind = "sent" if entry.kind in SENT else entry.kind
        for field, what, rule in asked.get(kind, ()):
            if getattr(entry, field) in (None, ""):
                found.append(Gap(number, entry.serial, field, what, rule))
        if kind in asked and entry.refrigerant == "unknown":
            found.append(Gap(number, entry.serial, "refrigerant", "which refrigerant it was", _TYPE[law]))
    return tuple(found)
