"""The shipping description of a cylinder, in the order that 49 CFR 172.202 prescribes.

Identification number, proper shipping name (with technical names in brackets where it is an n.o.s. name),
hazard class or division, packing group (gases have none), then quantity and packages. Order and brackets from
memory of 172.202(a) and (b) and 172.203(k); mixtures 172.101(c)(10)(iii) and tentative names 172.101(c)(11)
read in the 2015 edition. It helps whoever signs the paper and does not replace that person's judgement.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

from service.paperwork.names import chemical_name
from service.paperwork.units import Units, mass
from service.refrigerants.catalogue import Refrigerant

_MIXTURE: Final = {
    "2.2": ("UN1078", "Refrigerant gases, n.o.s."),
    "2.1": ("UN3161", "Liquefied gas, flammable, n.o.s."),
}
SIGN: Final = "Whoever offers it for transport checks and signs the description."
TENTATIVE: Final = "Tentative name by the shipper's knowledge, 49 CFR 172.101(c)(11), until it is identified."
MEMORY: Final = "The UN number is from memory: confirm it in the 49 CFR 172.101 table."
RESIDUE: Final = "RESIDUE: Last Contained"


@dataclass(frozen=True, slots=True)
class ShippingDescription:
    """What goes on the paper.

    Parameters
    ----------
    text : str or None
        The whole description; None when the cylinder cannot be described.
    un_number, proper_shipping_name, hazard_division : str or None
        Its parts.
    technical_names : tuple of str
        In brackets after an n.o.s. name.
    quantity, packages : str
        Net mass in the owner's units; number and kind of packages.
    notes : tuple of str
        What whoever signs has to know.
    """

    text: str | None
    un_number: str | None = None
    proper_shipping_name: str | None = None
    hazard_division: str | None = None
    technical_names: tuple[str, ...] = ()
    quantity: str = ""
    packages: str = "1 cylinder"
    notes: tuple[str, ...] = field(default=(SIGN,))


def single(
    refrigerant: Refrigerant, net_kg: float | None, *, units: Units, residue: bool = False
) -> ShippingDescription:
    """Describe a cylinder that holds one designation."""
    un_number, name = refrigerant.un_number.value, refrigerant.shipping_name.value
    division = refrigerant.hazard_division.value
    if un_number is None or name is None or division is None:
        return ShippingDescription(
            None, notes=(f"{refrigerant.designation}: {refrigerant.un_number.source}", SIGN)
        )
    technical: tuple[str, ...] = ()
    proper = _proper_name(name)
    if "n.o.s." in proper:
        technical = _bracketed(name) or _technical(refrigerant.mass_fractions)
    notes = (SIGN,) if refrigerant.un_number.mark == "read" else (MEMORY, SIGN)
    return _described(un_number, proper, division, technical, net_kg, units, notes, residue=residue)


def mixture(
    shares: Mapping[str, float],
    refrigerants: Sequence[Refrigerant],
    net_kg: float | None,
    *,
    units: Units,
    tentative: bool = False,
    residue: bool = False,
) -> ShippingDescription:
    """Describe a mixture, or contents of which several candidates are left (``tentative``).

    Parameters
    ----------
    shares : mapping of str to float
        Mass fraction, or probability, by designation [-].
    refrigerants : sequence of Refrigerant
        The same designations.
    net_kg : float or None
        Net mass [kg].
    units : str
        Owner's units.
    tentative : bool
        The designations are candidates, not components.
    residue : bool
        Emptied and not cleaned.
    """
    divisions = {refrigerant.hazard_division.value for refrigerant in refrigerants}
    if not refrigerants or any(division is None or "2.3" in division for division in divisions):
        return ShippingDescription(
            None, notes=("It cannot be described as it stands: identify it first.", SIGN)
        )
    division = "2.1" if any(division and division.startswith("2.1") for division in divisions) else "2.2"
    un_number, name = _MIXTURE[division]
    weights: dict[str, float] = {}
    for refrigerant in refrigerants:
        share = shares.get(refrigerant.designation, 0.0)
        for component, fraction in (refrigerant.mass_fractions or {refrigerant.designation: 1.0}).items():
            weights[component] = weights.get(component, 0.0) + share * fraction
    notes = (TENTATIVE, SIGN) if tentative else (SIGN,)
    return _described(un_number, name, division, _technical(weights), net_kg, units, notes, residue=residue)


def unknown() -> ShippingDescription:
    """Describe contents that nobody knows: not at all, until they are identified."""
    return ShippingDescription(None, notes=("Contents unknown: identify them before it is offered.", SIGN))


def evacuated() -> ShippingDescription:
    """Describe a cylinder that was emptied and drawn to vacuum."""
    return ShippingDescription(
        "Empty cylinder, evacuated",
        quantity="-",
        notes=("Not regulated when clean of residue and vapour, 49 CFR 173.29(b) (from memory).",),
    )


def _described(
    un_number: str,
    name: str,
    division: str,
    technical: tuple[str, ...],
    net_kg: float | None,
    units: Units,
    notes: tuple[str, ...],
    *,
    residue: bool,
) -> ShippingDescription:
    brackets = f" ({', '.join(technical)})" if technical else ""
    quantity = f"{mass(net_kg, units)} net" if net_kg is not None else "net mass not known"
    prefix = f"{RESIDUE}, " if residue else ""
    text = f"{prefix}{un_number}, {name}{brackets}, {division}; 1 cylinder, {quantity}"
    return ShippingDescription(text, un_number, name, division, technical, quantity, notes=notes)


def _proper_name(name: str) -> str:
    """One name out of an entry such as ``Chlorodifluoromethane or Refrigerant gas R 22``."""
    return re.sub(r"\s*\(.*\)\s*$", "", name).split(" or ")[-1].strip()


def _bracketed(name: str) -> tuple[str, ...]:
    found = re.search(r"\(([^()]*)\)\s*$", name)
    return tuple(part.strip() for part in re.split(r", (?![\d,]*-)", found[1])) if found else ()


def _technical(weights: Mapping[str, float]) -> tuple[str, ...]:
    """Names of the two heaviest components, which is what 172.203(k) asks of a mixture."""
    heaviest = sorted(weights, key=lambda component: (-weights[component], component))[:2]
    return tuple(chemical_name(component) for component in heaviest)
