"""The gases of ADR by UN number: class, labels, tunnels, periods, and table 2 of packing instruction P200.

Filling ratio: mass of gas over the mass of water at 15 °C that would fill the receptacle (ADR 1.2.1, from memory).
"""

import csv
import io
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

WATER_15C_KG_M3: Final = 999.1
"""Density of water at 15 °C, to which the filling ratio refers (from memory) [kg/m3]."""


@dataclass(frozen=True, slots=True)
class Filling:
    """A test pressure [Pa] and the filling ratio [-] that it allows."""

    test_pressure_pa: float
    ratio: float


@dataclass(frozen=True, slots=True)
class AdrGas:
    """
    One entry.

    Parameters
    ----------
    un_number, name
        ``UN1018``; proper shipping name.
    classification_code, labels
        ``2A``; ``2.2``, with further labels in brackets.
    transport_category, tunnel_code
        ``3``; ``C/E``.
    test_period_years
        Between periodic inspections [a].
    fillings
        Of table 2; none for an n.o.s. entry.
    """

    un_number: str
    name: str
    classification_code: str
    labels: str
    transport_category: str
    tunnel_code: str
    test_period_years: int
    fillings: tuple[Filling, ...] = ()

    @property
    def toxic(self) -> bool:
        """Whether the classification code says T."""
        return "T" in self.classification_code

    def filling(self, test_pressure_pa: float) -> Filling | None:
        """The highest ratio that a test pressure [Pa] allows; None below the least one listed."""
        allowed = [one for one in self.fillings if test_pressure_pa >= one.test_pressure_pa * 0.9999]
        return max(allowed, key=lambda one: one.ratio, default=None)


class AdrGases:
    """Entries by UN number."""

    def __init__(self, gases: Iterable[AdrGas] = ()) -> None:
        self._by_number = {gas.un_number: gas for gas in gases}

    @classmethod
    def from_csv(cls, text: str) -> "AdrGases":
        """Read the table from its CSV text; rows of one number add up to its fillings."""
        rows: dict[str, list[dict[str, str]]] = {}
        for record in csv.DictReader(io.StringIO(text)):
            rows.setdefault(record["un_number"], []).append(record)
        return cls(_gas(records) for records in rows.values())

    def get(self, un_number: str | None) -> AdrGas | None:
        """The entry of a UN number; None where there is none."""
        return self._by_number.get(un_number or "")


def _gas(records: list[dict[str, str]]) -> AdrGas:
    first = records[0]
    return AdrGas(
        un_number=first["un_number"],
        name=first["name"],
        classification_code=first["classification_code"],
        labels=first["labels"],
        transport_category=first["transport_category"],
        tunnel_code=first["tunnel_code"],
        test_period_years=int(first["test_period_years"]),
        fillings=tuple(
            Filling(float(one["test_pressure_bar"]) * 1e5, float(one["filling_ratio"]))
            for one in records
            if one["test_pressure_bar"]
        ),
    )
